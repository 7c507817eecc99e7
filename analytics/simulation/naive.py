"""The rule in common use, for comparison: outside mean ± k SD of the testers of this month."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analytics.detection.tallies import Tallies


def naive_marks(tallies: Tallies, *, times: float) -> NDArray[np.bool_]:
    """Which tester is marked in which month, (measures, testers, months): common practice.

    A month's mean or share of each tester with a visit, whatever their number.
    """
    n = tallies.n
    value = np.where(n > 0, tallies.s / np.where(n > 0, n, 1.0), np.nan)
    count = np.maximum((n > 0).sum(axis=1, keepdims=True), 1)
    mean = np.nansum(value, axis=1, keepdims=True) / count
    squares = np.nansum((value - mean) ** 2, axis=1, keepdims=True)
    sd = np.sqrt(squares / np.maximum(count - 1, 1))
    return np.asarray((np.abs(value - mean) > times * sd) & (sd > 0), dtype=np.bool_)
