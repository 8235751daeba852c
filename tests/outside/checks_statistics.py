"""The bench's own statistics."""

import numpy as np
from measure.intervals import wilson
from measure.quality import spearman
from scipy import stats
from statsmodels.stats.proportion import proportion_confint


def check_wilson_against_statsmodels(probe):
    # statsmodels 0.15 `proportion_confint(method="wilson")` (Wilson 1927).
    worst = 0.0
    for k, n in [(0, 20), (8, 10), (95, 100), (1, 30), (20, 20), (737, 964), (3, 1500)]:
        want = proportion_confint(k, n, method="wilson")
        worst = max(worst, *np.abs(np.subtract(wilson(k, n), want)))
    assert worst < 1e-12, f"largest difference {worst:.1e}"
    return f"largest difference {worst:.1e}"


def check_rank_correlation_against_scipy(probe):
    # SciPy 1.17 `stats.spearmanr`, with ties (Spearman 1904; ties share their mean rank).
    chance, worst = np.random.default_rng(3), 0.0
    for ties in (1000, 12, 3):
        a = chance.integers(0, ties, 80)
        b = a + chance.integers(0, ties, 80)
        want = stats.spearmanr(a, b).statistic
        worst = max(worst, abs(spearman(a.tolist(), b.tolist()) - want))
    assert worst < 1e-12, f"largest difference {worst:.1e}"
    return f"largest difference {worst:.1e}"
