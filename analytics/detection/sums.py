"""Sums over any span of months, in one subtraction."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analytics.detection.tallies import Tallies

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Sums:
    """Occasions, observed, expected (at the network's month) and months with visits.

    All of one shape. For a mean, observed and expected are sums of scores; for a share, events.
    """

    n: Floats
    observed: Floats
    expected: Floats
    months: Floats


@dataclass(frozen=True, slots=True)
class Cumulated:
    """Running sums with a zero in front; shape (4, measures, testers, months + 1)."""

    total: Floats

    def between(self, start: int, end: int) -> Sums:
        """Sums of the months ``start`` up to but not ``end``, shape (measures, testers)."""
        return Sums(*(self.total[..., max(end, 0)] - self.total[..., max(start, 0)]))

    def of(self, measure: Ints, tester: Ints, start: Ints, end: Ints) -> Sums:
        """Sums of single tests, each with its own span."""
        return Sums(*(self.total[:, measure, tester, end] - self.total[:, measure, tester, start]))


def cumulate(tallies: Tallies, centres: Floats, used: NDArray[np.bool_] | None = None) -> Cumulated:
    """Running sums of the months; those not ``used`` count nothing."""
    expected = tallies.n * np.nan_to_num(centres)[:, None, :]
    parts = np.stack([tallies.n, tallies.s, expected, (tallies.n > 0).astype(np.float64)])
    if used is not None:
        parts = np.where(used, parts, 0.0)
    total = np.zeros((*parts.shape[:-1], parts.shape[-1] + 1))
    np.cumsum(parts, axis=-1, out=total[..., 1:])
    return Cumulated(total)


def stack(sums: list[Sums]) -> Sums:
    """Several sums of one shape along a new first axis."""
    return Sums(*(np.stack([getattr(one, name) for one in sums]) for name in Sums.__slots__))
