"""What chance alone does to a table of rank correlations, so that a large cell of few photos is not taken for more."""

import dataclasses
import math
import random

from . import intervals

# Shuffles of each cell, and their seed.
SHUFFLES = 200
SEED = 7


@dataclasses.dataclass(frozen=True)
class Cell:
    """A measure, a fault, their values photo by photo, and Spearman's correlation of the two."""

    own: str
    cause: str
    pairs: list[tuple[float, float]]
    rho: float


def least(rho: float, n: int) -> float:
    """Lower end of the 95 % interval of a rank correlation of n pairs (Fisher's transformation with a deviation of
    sqrt(1.06 / (n - 3)): Fieller, Hartley and Pearson 1957, from memory)."""
    if n <= 3 or abs(rho) >= 1.0:
        return -1.0 if n <= 3 else rho
    return math.tanh(math.atanh(rho) - intervals.Z95 * math.sqrt(1.06 / (n - 3)))


def of_noise(cells: list[Cell], limit: float) -> dict[str, float]:
    """What a table of the same measures and photos shows when the severities are dealt out anew: how many cells lie
    above the limit, and the deviation of a correlation in those whose measure varies."""
    above, squares, varied = 0.0, 0.0, 0
    for cell in cells:
        x, y = (centred([p[side] for p in cell.pairs]) for side in (0, 1))
        size = math.sqrt(sum(u * u for u in x) * sum(v * v for v in y))
        if size <= 0.0:
            continue
        draw = random.Random(SEED)
        varied += 1
        for _ in range(SHUFFLES):
            draw.shuffle(x)
            rho = sum(u * v for u, v in zip(x, y)) / size
            above += (abs(rho) > limit) / SHUFFLES
            squares += rho * rho / SHUFFLES
    spread = math.sqrt(squares / varied) if varied else 0.0
    return {"above_limit_by_chance": round(above, 1), "spread_of_noise": round(spread, 3)}


def centred(values: list[float]) -> list[float]:
    """Ranks less their mean."""
    ranked = ranks(values)
    mean = sum(ranked) / max(len(ranked), 1)
    return [r - mean for r in ranked]


def ranks(values: list[float]) -> list[float]:
    """Ranks from 1, ties sharing their mean."""
    order = sorted(range(len(values)), key=values.__getitem__)
    out, i = [0.0] * len(values), 0
    while i < len(order):
        j = i
        while j + 1 < len(order) and values[order[j + 1]] == values[order[i]]:
            j += 1
        for k in range(i, j + 1):
            out[order[k]] = (i + j) / 2 + 1
        i = j + 1
    return out
