"""The few numbers that keep small cells and single clinics out of figures, in one place."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Outside the owning clinic no figure rests on fewer visits; 10 and less is where releases of
# health data usually stop (common practice).
SMALLEST_CELL: Final = 11
# With fewer clinics besides the reader's own, what is left after one's own figures are taken off
# would be some other clinic's.
OTHER_CLINICS: Final = 3
# The middle half of testers is drawn from so many on, the middle four fifths from so many: with
# fewer a quantile is nearly one tester's own value.
MIDDLE_HALF_FROM: Final = 10
MIDDLE_MOST_FROM: Final = 20


def may_compare(clinics: Collection[int], *, own: int) -> bool:
    """Whether a reader of the clinic ``own`` may be shown others: enough of them have data."""
    return len(set(clinics) - {own}) >= OTHER_CLINICS


def large_enough(n: Floats, visits: Floats) -> NDArray[np.bool_]:
    """Where a figure of ``n`` occasions in ``visits`` visits may be shown outside its clinic.

    Four irrigations make one visit, and many visits may hold few occasions: both must be enough.
    """
    return np.asarray((n >= SMALLEST_CELL) & (visits >= SMALLEST_CELL))
