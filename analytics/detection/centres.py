"""What a month was like for all: taken off before anybody is compared with their own past."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.detection.robust import trimmed_mean
from analytics.detection.tallies import Tallies

Floats = NDArray[np.float64]

# A subject this far (standard deviations of a binomial) from the month's share is left out of it.
_APART: Final = 2.5
_ROUNDS: Final = 3


def month_centres(tallies: Tallies, shares: NDArray[np.bool_]) -> Floats:
    """Network's score or share of each month, shape (measures, months); NaN without visits.

    Means: the 20 % trimmed mean over testers. Shares: events over occasions of all testers but
    those far from it, since a trimmed mean of many zeros and a few small counts is 0.
    """
    centres = np.empty((len(tallies.measures), len(tallies.months)))
    means = ~shares
    with np.errstate(invalid="ignore", divide="ignore"):
        values = tallies.s[means] / tallies.n[means]
    centres[means] = trimmed_mean(np.swapaxes(values, 1, 2))
    centres[shares] = _pooled_share(tallies.n[shares], tallies.s[shares])
    return centres


def _pooled_share(n: Floats, s: Floats) -> Floats:
    """Share over subjects of the months, pulled by none of them; half an event is never none.

    With 0 or all of N the share is kept half an event from the end, so that a logit exists.
    """
    kept = n > 0
    for _ in range(_ROUNDS):
        trials, events = np.where(kept, n, 0.0).sum(axis=1), np.where(kept, s, 0.0).sum(axis=1)
        share = (events + 0.5) / (trials + 1.0)
        p = share[:, None, :]
        apart = np.abs(s - n * p) > _APART * np.sqrt(n * p * (1.0 - p)) + 0.5
        kept = (n > 0) & ~apart
    return np.where((n > 0).any(axis=1), share, np.nan)
