"""Which of many tests stand out together: weighted Benjamini-Hochberg."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def weighted_q(p: Floats, weights: Floats) -> Floats:
    """Smallest false discovery rate at which each test is still found, in the shape given.

    Benjamini & Hochberg, J R Stat Soc B 1995;57:289-300, on p / weight, weights scaled to a mean
    of 1 over the tests (Genovese, Roeder, Wasserman, Biometrika 2006;93:509-524, from memory).
    NaN is no test and stays NaN.
    """
    q = np.full(p.shape, np.nan)
    tested = np.isfinite(p) & (weights > 0)
    count = int(tested.sum())
    if not count:
        return q
    weight = np.broadcast_to(weights, p.shape)[tested]
    scaled = p[tested] * weight.mean() / weight
    order = np.argsort(scaled, kind="stable")
    steps = scaled[order] * count / np.arange(1, count + 1)
    found = np.empty(count)
    found[order] = np.minimum(np.minimum.accumulate(steps[::-1])[::-1], 1.0)
    q[tested] = found
    return q
