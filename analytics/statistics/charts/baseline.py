"""The stretch of points that limits are made from, and how firm that makes them.

Limits from 12 points give a false signal in nearly half of the charts of the next 24 points on
which nothing happens, under four usual run rules (test_control_charts.py). So each chart says how
firm its limits are, and until they are firm no signal raises an alert by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Baseline = slice | int | None

TRIAL_BELOW: Final = 12
FIRM_FROM: Final = 20


class Standing(StrEnum):
    """How much limits can be relied on, by how many points they were made from."""

    TRIAL = "trial"
    SETTLING = "settling"
    FIRM = "firm"


def standing_of(points: int) -> Standing:
    """``trial`` under 12 points, ``firm`` from 20, ``settling`` between."""
    if points < TRIAL_BELOW:
        return Standing.TRIAL
    return Standing.FIRM if points >= FIRM_FROM else Standing.SETTLING


def baseline_flags(
    points: ArrayLike, baseline: Baseline = None, *, exclude: Sequence[int] = ()
) -> Flags:
    """Which points limits are made from.

    ``baseline`` is a slice, the number of first points, or ``None`` for all. Points at the places
    ``exclude`` stay on the chart and out of its limits, and so do missing ones.

    :raises ValueError: for a number below 0, or a place that is not on the chart.
    """
    values = series(points)
    stretch = slice(baseline) if isinstance(baseline, int) else baseline
    if isinstance(baseline, int) and baseline < 0:
        raise ValueError(f"a baseline has no fewer than 0 points: {baseline}")
    flags = np.zeros(values.shape, dtype=np.bool_)
    flags[stretch or slice(None)] = True
    for place in exclude:
        if not 0 <= place < len(values):
            raise ValueError(f"there is no point {place} among {len(values)}")
        flags[place] = False
    return flags & np.isfinite(values)


def series(values: ArrayLike) -> Floats:
    """One number a point; what is not finite is missing (NaN).

    :raises ValueError: for more than one dimension.
    """
    points = np.asarray(values, dtype=np.float64)
    if points.ndim != 1:
        raise ValueError(f"one value a point was wanted, not the shape {points.shape}")
    return np.where(np.isfinite(points), points, np.nan)
