"""Monthly sums of each subject: all that the detection of changes and differences reads."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Tallies:
    """Mergeable sums by measure, subject and month.

    ``n``, ``s`` and ``ss`` have the shape (measures, testers, months): occasions, sum of scores
    (for a share: of events), sum of their squares. Months are consecutive firsts of the month,
    oldest first, and hold complete months only. ``clinics`` is the clinic's number of each tester.

    :raises ValueError: if a shape does not fit, a month is left out, or a number is negative
        where it cannot be, not finite, or (a share) above its occasions.
    """

    measures: tuple[str, ...]
    months: tuple[date, ...]
    testers: tuple[Hashable, ...]
    clinics: Ints
    n: Floats
    s: Floats
    ss: Floats

    def __post_init__(self) -> None:
        shape = (len(self.measures), len(self.testers), len(self.months))
        for name in ("n", "s", "ss"):
            values = getattr(self, name)
            if values.shape != shape:
                raise ValueError(f"{name} has the shape {values.shape}, not {shape}")
            if not np.isfinite(values).all():
                raise ValueError(f"{name} holds a value that is not finite")
        for name in ("n", "ss"):
            if (getattr(self, name) < 0).any():
                raise ValueError(f"{name} is negative: {getattr(self, name).min()}")
        if self.clinics.shape != (len(self.testers),):
            raise ValueError(f"{self.clinics.shape} clinics for {len(self.testers)} testers")
        _check_names(self.measures, self.testers)
        _check_months(self.months)


def by_clinic(tallies: Tallies) -> Tallies:
    """The same sums with clinics as the subjects, in the order of their numbers."""
    numbers, place = np.unique(tallies.clinics, return_inverse=True)
    member = (place[None, :] == np.arange(len(numbers))[:, None]).astype(np.float64)
    return Tallies(
        measures=tallies.measures,
        months=tallies.months,
        testers=tuple(int(number) for number in numbers),
        clinics=numbers.astype(np.int64),
        n=member @ tallies.n,
        s=member @ tallies.s,
        ss=member @ tallies.ss,
    )


def merge(one: Tallies, other: Tallies) -> Tallies:
    """The sums of both, which must be of the same measures, testers and months.

    :raises ValueError: if they are not.
    """
    for name in ("measures", "months", "testers"):
        if getattr(one, name) != getattr(other, name):
            raise ValueError(f"the two differ in their {name}")
    return Tallies(
        one.measures,
        one.months,
        one.testers,
        one.clinics,
        one.n + other.n,
        one.s + other.s,
        one.ss + other.ss,
    )


def _check_names(measures: tuple[str, ...], testers: tuple[Hashable, ...]) -> None:
    for names in (measures, testers):
        if len(set(names)) != len(names):
            raise ValueError("a measure or a tester is named twice")


def _check_months(months: tuple[date, ...]) -> None:
    for month in months:
        if month.day != 1:
            raise ValueError(f"{month} is not the first of a month")
    counted = [month.year * 12 + month.month for month in months]
    for earlier, later, month in zip(counted, counted[1:], months[1:], strict=False):
        if later != earlier + 1:
            raise ValueError(f"{month} does not follow the month before it in the list")
