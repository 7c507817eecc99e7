"""Everything drawn for one clinic, before a word of it is written down."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt

from registry.demo.codes import random_codes
from registry.demo.course import COLUMNS, Plan, draw_plan
from registry.demo.diary import Diary, make_diary
from registry.demo.faults import response_factor
from registry.demo.people import People, draw_people
from registry.demo.physiology import draw_responses, thermal_strength
from registry.demo.scenario import BEAT_SHARES, Clinic, Scenario
from registry.demo.signs import expected_beat
from registry.demo.streams import stream
from registry.demo.temperatures import DELIVERY_NOISE_C, set_temperatures, visit_offsets

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

# An open drum dries under warm air: in about a third of them the response inverts (8 of 30,
# Park et al.; 16 of 32 ears, Res Vestib Sci 2012;11:29-36).
_INVERTED: float = -0.45


@dataclass(frozen=True, slots=True)
class Results:
    """One row a visit, eight columns for its possible irrigations (see ``course``).

    ``response`` is positive as expected; ``peak`` is that with the spontaneous nystagmus.
    """

    diary: Diary
    people: People
    plan: Plan
    visit_refs: list[str]
    subject_refs: list[str]
    set_c: Floats
    delivered_c: Floats
    response: Floats
    peak: Floats
    expected: Floats
    with_beats: Bools


def draw_results(
    scenario: Scenario, clinic: Clinic, *, size: str, until: date, seed: int
) -> Results:
    """Draw all visits of one clinic; the same for the same arguments."""
    count = scenario.visits_of(clinic, size)
    diary = make_diary(stream(scenario, clinic, "diary", seed), clinic, until=until, count=count)
    people = draw_people(stream(scenario, clinic, "people", seed), diary.day)
    rng = stream(scenario, clinic, "responses", seed)
    plan = draw_plan(rng, clinic, diary)
    set_c, delivered_c = _temperatures(rng, clinic, diary, plan)
    strength = _strength(clinic, diary, people, plan, thermal_strength(set_c, delivered_c))
    response = draw_responses(
        rng,
        people,
        ear=plan.ear,
        stimulus=plan.stimulus,
        first=plan.order[:, 0],
        strength=strength,
    )
    beats = np.array([[expected_beat(e, s) for s in range(3)] for e in range(2)])
    expected = beats[plan.ear, plan.stimulus]
    held = np.where(_removed(clinic), 0.0, people.spontaneous)
    codes = stream(scenario, clinic, "codes", seed)
    return Results(
        diary=diary,
        people=people,
        plan=plan,
        visit_refs=random_codes(codes, "V", count),
        subject_refs=random_codes(codes, "S", count),
        set_c=set_c,
        delivered_c=delivered_c,
        response=response,
        peak=response + held[:, None] * expected,
        expected=expected,
        with_beats=_with_beats(scenario, clinic, rng, size, count),
    )


def _temperatures(
    rng: np.random.Generator, clinic: Clinic, diary: Diary, plan: Plan
) -> tuple[Floats, Floats]:
    """Set and delivered temperature of every irrigation in Cel; ice counts as set to 0."""
    both = set_temperatures(clinic, diary.irrigator)
    visit = np.arange(diary.count)[:, None]
    set_c = np.where(plan.stimulus < 2, both[visit, np.minimum(plan.stimulus, 1)], 0.0)
    offsets = visit_offsets(clinic, diary.irrigator, diary.day)
    noise = rng.normal(0.0, DELIVERY_NOISE_C, (diary.count, COLUMNS))
    return set_c, set_c + offsets[:, None] + noise


def _strength(clinic: Clinic, diary: Diary, people: People, plan: Plan, thermal: Floats) -> Floats:
    """What heat, the tester's hand and an open drum make of each response."""
    factor = np.ones(diary.count)
    for place, tester in enumerate(clinic.testers):
        by = diary.tester == place
        factor[by] = tester.strength * response_factor(tester.code, diary.day[by])
    air = np.array([i.delivery.medium == "air" for i in clinic.irrigators])[diary.irrigator]
    turned = people.open_drum() & people.inverts & air[:, None]
    visit = np.arange(diary.count)[:, None]
    inverted = turned[visit, plan.ear] & (plan.stimulus == 0)
    return np.asarray(thermal * factor[:, None] * np.where(inverted, _INVERTED, 1.0))


def _removed(clinic: Clinic) -> bool:
    return clinic.export.spontaneous == "removed"


def _with_beats(
    scenario: Scenario, clinic: Clinic, rng: np.random.Generator, size: str, count: int
) -> Bools:
    """Which visits carry beats, so that over all clinics the share is that of the size."""
    senders = [c for c in scenario.clinics if c.export.beats]
    share = BEAT_SHARES[size] * len(scenario.clinics) / len(senders)
    return np.asarray((rng.random(count) < share) & clinic.export.beats)
