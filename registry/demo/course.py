"""How a visit goes: what is planned, irrigated, repeated, given up.

An irrigation has a fixed column: 0-3 the first attempts of right warm, left warm, right cool
and left cool, 4-5 repeats, 6-7 ice in the right and the left ear.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

from registry.caloric.vocabulary import REPEAT_REASONS_AVOIDABLE
from registry.demo.diary import Diary
from registry.demo.faults import repeat_share
from registry.demo.people import People
from registry.demo.scenario import Clinic

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

COLUMNS: Final = 8
REPEATS: Final = (4, 5)
ICE: Final = (6, 7)
USUAL_REPEAT_SHARE: Final = 0.075
STOPPED_SHARE: Final = 0.035
MONOTHERMAL_SHARE: Final = 0.04
LOST_SHARE: Final = 0.008
_STOPS: Final = ("nausea_or_vomiting", "declined", "time", "equipment", "safety_stop", "other")
_STOP_SHARES: Final = (0.50, 0.20, 0.14, 0.10, 0.03, 0.03)
_INDICATED: Final = ("first_response_check", "asymmetry_check")


@dataclass(frozen=True, slots=True)
class Plan:
    """What is decided before the first response; one row a visit."""

    order: Ints  # the four first attempts, in time
    ear: Ints
    stimulus: Ints
    repeats: Ints  # 0, 1 or 2
    avoidable: Bools  # whether the repeated attempts could not be used
    protocol: Ints  # 0 bithermal, 1 warm alone, 2 cool alone
    dice: Floats  # shape (visits, 6)


@dataclass(slots=True)
class Course:
    """What was done in one visit: columns in order of time, and why it went so."""

    columns: list[int]
    protocol: str = "bithermal"
    incomplete: str | None = None
    adverse: str = "none"
    unusable: dict[int, str] = field(default_factory=dict)
    repeat_reasons: dict[int, str | None] = field(default_factory=dict)
    counts_first: bool = False


def draw_plan(rng: np.random.Generator, clinic: Clinic, diary: Diary) -> Plan:
    """Order, repeats and protocol of each visit."""
    count = diary.count
    cells = np.zeros((count, COLUMNS), dtype=np.int64)
    cells[:, :4] = np.arange(4)
    cells[:, 4:6] = rng.permuted(np.tile(np.arange(4), (count, 1)), axis=1)[:, :2]
    cells[:, 6:] = (4, 5)
    share = np.zeros(count)
    for place, tester in enumerate(clinic.testers):
        share += (diary.tester == place) * repeat_share(tester.code, diary.day, USUAL_REPEAT_SHARE)
    repeated = rng.random(count) < share
    return Plan(
        order=_orders(rng, clinic, count),
        ear=cells % 2,
        stimulus=cells // 2,
        repeats=repeated * (1 + (rng.random(count) < 0.12)),
        avoidable=rng.random(count) < 0.55,
        protocol=rng.choice(3, size=count, p=[1 - MONOTHERMAL_SHARE, 0.034, 0.006]),
        dice=rng.random((count, 6)),
    )


def _orders(rng: np.random.Generator, clinic: Clinic, count: int) -> Ints:
    """The right ear first or the left at random; warm first, or cool where that is the habit."""
    usual = np.array((2, 3, 0, 1) if clinic.export.cool_first else (0, 1, 2, 3))
    left_first = rng.random(count) < 0.5
    return np.where(left_first[:, None], usual ^ 1, usual)


def course_of(plan: Plan, people: People, clinic: Clinic, visit: int, peaks: Floats) -> Course:
    """Play one visit; ``peaks`` are its eight possible peaks, positive as expected."""
    dice = plan.dice[visit]
    order = [int(column) for column in plan.order[visit]]
    course = _planned(int(plan.protocol[visit]), order)
    if _screen_met(clinic, course, people, visit, peaks):
        return Course(columns=[c for c in order if c < 2], incomplete="screen_met")
    if dice[0] < STOPPED_SHARE and len(course.columns) > 1:
        return _stopped(course, dice)
    if dice[0] < STOPPED_SHARE + LOST_SHARE and len(course.columns) == 4:
        lost = course.columns[int(dice[1] * 4)]
        course.unusable[lost] = REPEAT_REASONS_AVOIDABLE[int(dice[2] * 6)]
        course.incomplete = "time" if dice[3] < 0.5 else "declined"
        return course
    _add_repeats(course, plan, visit, dice)
    if clinic.export.ice and float(people.gain[visit].max()) < 0.3 and dice[4] < 0.6:
        course.columns.extend(ICE)
    return course


def leave_out_ear(course: Course, plan: Plan, visit: int, ear: int) -> None:
    """Take away the irrigations of an ear that must not be irrigated."""
    course.columns = [c for c in course.columns if plan.ear[visit, c] != ear]
    course.incomplete = "ear_contraindication"


def _planned(protocol: int, order: list[int]) -> Course:
    if protocol == 1:
        return Course(columns=[c for c in order if c < 2], protocol="monothermal_warm")
    if protocol == 2:
        return Course(columns=[c for c in order if c >= 2], protocol="monothermal_cool")
    return Course(columns=order)


def _screen_met(clinic: Clinic, course: Course, people: People, visit: int, peaks: Floats) -> bool:
    """Warm screen of Lightfoot et al., Ear Hear 2009;30(1):54-62, where a clinic uses it."""
    if not clinic.export.screens or course.protocol != "bithermal":
        return False
    right, left = float(peaks[0]), float(peaks[1])
    strong = min(right, left) > 8.0 and abs(right - left) < 0.15 * (right + left)
    return strong and people.spontaneous[visit] == 0 and not people.otoscopy[visit].any()


def _stopped(course: Course, dice: Floats) -> Course:
    done = 1 + int(dice[1] * (len(course.columns) - 1))
    course.columns = course.columns[:done]
    course.incomplete = _STOPS[int(np.searchsorted(np.cumsum(_STOP_SHARES[:-1]), dice[2]))]
    if course.incomplete == "nausea_or_vomiting" and dice[3] < 0.3:
        course.adverse = "vomiting"
    elif course.incomplete == "safety_stop":
        course.adverse = "fainting" if dice[3] < 0.4 else "pain_or_burn"
    return course


def _add_repeats(course: Course, plan: Plan, visit: int, dice: Floats) -> None:
    repeated = [
        column
        for column in REPEATS[: int(plan.repeats[visit])]
        if _cell(plan, visit, column) in course.columns
    ]
    for column in repeated:
        reason = _INDICATED[int(dice[5] * 2)]
        if plan.avoidable[visit]:
            reason = REPEAT_REASONS_AVOIDABLE[int(dice[5] * 6)]
            course.unusable[_cell(plan, visit, column)] = reason
        course.columns.append(column)
        course.repeat_reasons[column] = None if dice[1] < 0.06 else reason
    course.counts_first = bool(repeated) and not plan.avoidable[visit] and bool(dice[2] < 0.05)


def _cell(plan: Plan, visit: int, column: int) -> int:
    return int(plan.stimulus[visit, column] * 2 + plan.ear[visit, column])
