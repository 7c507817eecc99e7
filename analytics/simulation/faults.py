"""What goes wrong: each fault changes the habits of one tester (or a clinic) from a month on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.simulation.habits import Habits
from analytics.simulation.patients import EAR_SD, IRRIGATION_SD
from analytics.simulation.world import USUAL

Ints = NDArray[np.int64]
# Whose habits, from which month on, and to which side where a fault has two.
Change = Callable[[Habits, Ints, int, float], None]

USUAL_VISITS: Final = 25.0
_EAR_HALF_SD: Final = float(np.hypot(EAR_SD, IRRIGATION_SD / 2.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """``measures`` are those that may show it; ``visits`` a month of the testers who have it."""

    id: str
    title: str
    measures: tuple[str, ...]
    change: Change
    visits: float = USUAL_VISITS
    from_first_day: bool = False


def _balance(points: float, habits: Habits, who: Ints, start: int, side: float) -> None:
    # A half log difference h makes a weakness of 100 tanh(h) points.
    habits.balance[who, start:] += side * np.arctanh(points / 100.0)


def _direction(points: float, habits: Habits, who: Ints, start: int, side: float) -> None:
    habits.direction[who, start:] += side * np.arctanh(points / 100.0)


def _weak(share: float, habits: Habits, who: Ints, start: int, side: float) -> None:
    habits.level[who, start:] += np.log1p(-share)


def _repeats(to: float, habits: Habits, who: Ints, start: int, side: float) -> None:
    """Both kinds of repeats by one factor of odds, until this share of visits has one."""
    names = ("repeats_avoidable", "repeats_indicated")
    odds = [USUAL[name] / (1.0 - USUAL[name]) for name in names]
    low, high = 1.0, 100.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        some = 1.0 - np.prod([1.0 / (1.0 + middle * one) for one in odds])
        low, high = (middle, high) if some < to else (low, middle)
    for name in names:
        habits.shares[name][who, start:] += np.log(low)


def _whole(share: float, habits: Habits, who: Ints, start: int, side: float) -> None:
    habits.whole[who, start:] = share


def _fives(share: float, habits: Habits, who: Ints, start: int, side: float) -> None:
    habits.five[who, start:] = share


def _ear_spread(times: float, habits: Habits, who: Ints, start: int, side: float) -> None:
    """The ears' half differences spread wider, one ear against the other."""
    habits.ear_noise[who, start:] = _EAR_HALF_SD * np.sqrt(times**2 - 1.0)


def _irrigation_noise(times: float, habits: Habits, who: Ints, start: int, side: float) -> None:
    """The same widening of the ears' half differences, but out of every single irrigation."""
    own = (times * _EAR_HALF_SD) ** 2 - EAR_SD**2
    habits.noise[who, start:] *= 2.0 * np.sqrt(own) / IRRIGATION_SD


def _right_first(share: float, habits: Habits, who: Ints, start: int, side: float) -> None:
    habits.right_first[who, start:] = share


def other_patients(habits: Habits, who: Ints, start: int, side: float) -> None:
    """A clinic's patients change: weaker responses, more of them with a weak ear."""
    habits.level[who, start:] += np.log(0.85)
    habits.weak[who, start:] = 0.35


BALANCE: Final = ("right_left_balance",)
DIRECTION: Final = ("direction_balance",)
LEVEL: Final = ("response_level",)
REPEATS: Final = (
    "repeats_by_visit",
    "repeats_by_irrigation",
    "repeats_avoidable",
    "repeats_indicated",
)
SPREAD: Final = ("weakness_spread", "direction_spread")


def _fault(
    name: str,
    title: str,
    measures: tuple[str, ...],
    change: Callable[[float, Habits, Ints, int, float], None],
    size: float,
    *,
    visits: float = USUAL_VISITS,
    from_first_day: bool = False,
) -> Fault:
    return Fault(
        id=name,
        title=title,
        measures=measures,
        change=partial(change, size),
        visits=visits,
        from_first_day=from_first_day,
    )


# At most four testers in a hundred have a fault of the same measure at the same time: the
# engine learns what is usual from the network with the faults in it.
PANELS: Final[tuple[tuple[Fault, ...], ...]] = (
    (
        _fault("balance_6", "right-left balance off by 6 points", BALANCE, _balance, 6),
        _fault("direction_5", "direction balance off by 5 points", DIRECTION, _direction, 5),
        _fault("weak_15", "all responses 15 % weak", LEVEL, _weak, 0.15),
        _fault("repeats_20", "repeats 10 → 20 %", REPEATS, _repeats, 0.20),
        _fault(
            "whole", "a quarter of peaks rounded to whole numbers", ("digits_whole",), _whole, 0.25
        ),
        _fault("spread_ears", "spread 1.5 times, between the ears", SPREAD, _ear_spread, 1.5),
    ),
    (
        _fault("balance_8", "right-left balance off by 8 points", BALANCE, _balance, 8),
        _fault("direction_8", "direction balance off by 8 points", DIRECTION, _direction, 8),
        _fault("weak_20", "all responses 20 % weak", LEVEL, _weak, 0.20),
        _fault("repeats_30", "repeats 10 → 30 %", REPEATS, _repeats, 0.30),
        _fault("fives", "a quarter of peaks rounded to fives", ("digits_five",), _fives, 0.25),
        _fault(
            "spread_all", "spread 1.5 times, by irrigation noise", SPREAD, _irrigation_noise, 1.5
        ),
    ),
    (
        _fault("balance_10", "right-left balance off by 10 points", BALANCE, _balance, 10),
        _fault("weak_25", "all responses 25 % weak", LEVEL, _weak, 0.25),
        _fault("balance_8_at_15", "8 points, 15 visits a month", BALANCE, _balance, 8, visits=15),
        _fault(
            "first_weak_20", "20 % weak from the first day", LEVEL, _weak, 0.20, from_first_day=True
        ),
    ),
    (
        _fault("balance_8_at_40", "8 points, 40 visits a month", BALANCE, _balance, 8, visits=40),
        _fault("balance_8_at_60", "8 points, 60 visits a month", BALANCE, _balance, 8, visits=60),
    ),
    (
        _fault("first_8", "8 points from the first day", BALANCE, _balance, 8, from_first_day=True),
        _fault(
            "first_10", "10 points from the first day", BALANCE, _balance, 10, from_first_day=True
        ),
    ),
)
# A habit, not a fault: it moves two balances although nobody differs in what matters.
RIGHT_FIRST: Final = _fault(
    "right_first", "right ear always first", (*BALANCE, *DIRECTION), _right_first, 1.0
)
