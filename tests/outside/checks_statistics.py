"""The bench's own statistics."""

import numpy as np
from measure.intervals import wilson
from statsmodels.stats.proportion import proportion_confint


def check_wilson_against_statsmodels(probe):
    # statsmodels 0.15 `proportion_confint(method="wilson")` (Wilson 1927).
    worst = 0.0
    for k, n in [(0, 20), (8, 10), (95, 100), (1, 30), (20, 20), (737, 964), (3, 1500)]:
        want = proportion_confint(k, n, method="wilson")
        worst = max(worst, *np.abs(np.subtract(wilson(k, n), want)))
    assert worst < 1e-12, f"largest difference {worst:.1e}"
    return f"largest difference {worst:.1e}"
