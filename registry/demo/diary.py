"""When a clinic tests, on which irrigator, and who does it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
import numpy.typing as npt

from registry.demo.scenario import DAYS, Clinic, day_date

Ints = npt.NDArray[np.int64]

SLOTS: Final = 16
SLOT_MINUTES: Final = 40
OPENS_MINUTE: Final = 8 * 60


@dataclass(frozen=True, slots=True)
class Diary:
    """One entry a visit, in order of time; testers and irrigators by their place in the clinic."""

    day: Ints
    minute: Ints
    irrigator: Ints
    tester: Ints
    recorder: Ints

    @property
    def count(self) -> int:
        return len(self.day)


def working_days(until: date) -> Ints:
    """Monday to Friday, as day numbers of the two years."""
    weekday = (day_date(until, 0).weekday() + np.arange(DAYS)) % 7
    return np.flatnonzero(weekday < 5)


def make_diary(rng: np.random.Generator, clinic: Clinic, *, until: date, count: int) -> Diary:
    """Choose ``count`` free appointments of the two years.

    A tester stays with one irrigator for half a day, so nobody is in two rooms at once and
    no irrigator serves two people.

    :raises ValueError: if the clinic's irrigators cannot hold so many visits.
    """
    duty = _duty(rng, clinic)
    day, irrigator, slot = _appointments(clinic, working_days(until))
    chosen = np.sort(rng.choice(len(day), size=count, replace=False))
    day, irrigator, slot = day[chosen], irrigator[chosen], slot[chosen]
    tester = duty[day, slot // (SLOTS // 2), irrigator]
    recorder = irrigator % len(clinic.recorders)
    return Diary(day, OPENS_MINUTE + SLOT_MINUTES * slot, irrigator, tester, recorder)


def _appointments(clinic: Clinic, days: Ints) -> tuple[Ints, Ints, Ints]:
    """Every possible appointment as day, irrigator and slot, by day and then by slot."""
    shape = np.meshgrid(days, np.arange(SLOTS), np.arange(len(clinic.irrigators)), indexing="ij")
    day, slot, irrigator = (axis.ravel() for axis in shape)
    in_use = np.array([[i.in_use(d) for i in clinic.irrigators] for d in range(DAYS)])
    keep = in_use[day, irrigator]
    return day[keep], irrigator[keep], slot[keep]


def _duty(rng: np.random.Generator, clinic: Clinic) -> Ints:
    """Who stands at each irrigator: shape (days, 2 half days, irrigators).

    Irrigators out of use take no tester: the ones in use are filled first.
    """
    keys = rng.random((DAYS, 2, len(clinic.testers)))
    for place, tester in enumerate(clinic.testers):
        keys[: tester.first_day, :, place] = 2.0
        if tester.last_day is not None:
            keys[tester.last_day + 1 :, :, place] = 2.0
    order = np.argsort(keys, axis=2)
    in_use = np.array([[i.in_use(d) for i in clinic.irrigators] for d in range(DAYS)])
    rank = np.cumsum(in_use, axis=1) - 1
    return np.take_along_axis(order, np.clip(rank, 0, None)[:, None, :].repeat(2, axis=1), axis=2)
