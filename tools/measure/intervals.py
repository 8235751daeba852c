"""Intervals and calibration, in plain Python; checked against statsmodels in tests/outside."""

import math
import random

# Two-sided 95 % of the standard normal distribution.
Z95 = 1.959963984540054


def wilson(k: int, n: int, z: float = Z95) -> tuple[float, float]:
    """Score interval of k successes in n trials (Wilson 1927); (0, 1) where n is 0."""
    if n == 0:
        return 0.0, 1.0
    p = k / n
    centre = p + z * z / (2 * n)
    half = z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    scale = 1 + z * z / n
    low = 0.0 if k == 0 else (centre - half) / scale
    high = 1.0 if k == n else (centre + half) / scale
    return low, high


def equal_mass_bins(pairs: list[tuple[float, bool]], count: int = 10) -> list[list]:
    """(probability, right) pairs sorted by probability and cut into bins of equal size."""
    ordered = sorted(pairs)
    n = len(ordered)
    cuts = [round(i * n / count) for i in range(count + 1)]
    return [ordered[a:b] for a, b in zip(cuts, cuts[1:]) if b > a]


def calibration_error(pairs: list[tuple[float, bool]], count: int = 10) -> float | None:
    """Mean distance between stated and observed share of right answers over equal-mass bins,
    weighted by bin size; None without pairs."""
    if not pairs:
        return None
    total = 0.0
    for cell in equal_mass_bins(pairs, count):
        total += abs(sum(p for p, _ in cell) - sum(1 for _, right in cell if right))
    return total / len(pairs)


def perfect_calibration_error(
    probabilities: list[float], repeats: int = 200, count: int = 10
) -> tuple[float, float] | None:
    """What a perfectly calibrated model with these probabilities would show by chance: median and
    95th percentile of the calibration error over simulated outcomes (fixed seed)."""
    if not probabilities:
        return None
    draw = random.Random(20)
    errors = sorted(
        calibration_error([(p, draw.random() < p) for p in probabilities], count)
        for _ in range(repeats)
    )
    return errors[repeats // 2], errors[int(repeats * 0.95)]


def median(values: list[float]) -> float | None:
    ordered = sorted(values)
    n = len(ordered)
    if n == 0:
        return None
    return (ordered[(n - 1) // 2] + ordered[n // 2]) / 2
