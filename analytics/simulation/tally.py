"""From visits to the monthly sums that the engine reads, by the real scores."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
from numpy.typing import NDArray

from analytics.detection.tallies import Tallies
from analytics.measures.scores import score
from analytics.simulation.visits import Visits

FIRST_YEAR = 2024


def tally(
    visits: Visits, clinics: NDArray[np.int64], *, measures: Sequence[str], months: int
) -> Tallies:
    """Sums by measure, tester (their places are their names) and month."""
    testers = len(clinics)
    place = visits.tester * months + visits.month
    sums = np.zeros((3, len(measures), testers * months))
    for at, measure in enumerate(measures):
        for kind, values in enumerate(score(measure, visits.facts)):
            sums[kind, at] = np.bincount(place, weights=values, minlength=testers * months)
    n, s, ss = sums.reshape(3, len(measures), testers, months)
    return Tallies(tuple(measures), _months(months), tuple(range(testers)), clinics, n, s, ss)


def _months(count: int) -> tuple[date, ...]:
    return tuple(date(FIRST_YEAR + at // 12, at % 12 + 1, 1) for at in range(count))
