"""One visit as a clinic's system writes it down."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

import numpy as np

from registry.caloric.vocabulary import ONSET_BANDS, OTOSCOPY, SEXES
from registry.demo.course import Course, course_of, leave_out_ear
from registry.demo.faults import ears_exchanged
from registry.demo.irrigation import irrigation_documents
from registry.demo.people import GROUP_NAMES
from registry.demo.printed import printed_figures
from registry.demo.results import Results
from registry.demo.scenario import Clinic, day_date

Document = dict[str, Any]

_SYMPTOMATIC: Final = ("right", "left", "both", "neither")
# Of the visits with an open drum a few are irrigated with open water all the same.
_CAUTION_MISSED: Final = 0.08


class VisitWriter:
    """Turns the rows of one clinic's results into documents, in order of time."""

    def __init__(self, clinic: Clinic, results: Results, *, until: date) -> None:
        self._clinic = clinic
        self._results = results
        self._until = until
        self._zone = ZoneInfo(clinic.time_zone)

    def document(self, visit: int, rng: np.random.Generator) -> Document:
        """The visit at this place, with the optional blocks that the clinic sends."""
        clinic, results = self._clinic, self._results
        dice = rng.random(12).tolist()
        course = self._course(visit, dice)
        day = int(results.diary.day[visit])
        begins = datetime.combine(
            day_date(self._until, day), datetime.min.time(), tzinfo=self._zone
        ) + timedelta(minutes=int(results.diary.minute[visit]), seconds=int(dice[0] * 240))
        irrigations, counted = irrigation_documents(
            clinic,
            results,
            course,
            visit=visit,
            begins=begins,
            exchanged=ears_exchanged(clinic.code, day),
            rng=rng,
        )
        document = self._heading(visit, course, begins.date(), dice)
        document |= self._blocks(visit, dice)
        document["irrigations"] = irrigations
        if clinic.export.reported is not None:
            printed = printed_figures(counted, clinic.export.reported, slip=dice[11] < 0.004)
            if printed is not None:
                document["reported"] = printed
        return document

    def _course(self, visit: int, dice: list[float]) -> Course:
        results, clinic = self._results, self._clinic
        course = course_of(results.plan, results.people, clinic, visit, results.peak[visit])
        delivery = clinic.irrigators[int(results.diary.irrigator[visit])].delivery
        open_ears = np.flatnonzero(results.people.open_drum()[visit])
        if delivery.medium == "water_open" and open_ears.size and dice[1] > _CAUTION_MISSED:
            leave_out_ear(course, results.plan, visit, int(open_ears[0]))
            if not course.columns:
                course.columns = [1 - int(open_ears[0])]
        return course

    def _heading(self, visit: int, course: Course, visit_date: date, dice: list[float]) -> Document:
        clinic, results = self._clinic, self._results
        diary, people = results.diary, results.people
        irrigator = clinic.irrigators[int(diary.irrigator[visit])]
        heading: Document = {
            "visit_ref": results.visit_refs[visit],
            "subject_ref": results.subject_refs[int(people.subject[visit])],
            "visit_date": visit_date.isoformat(),
            "age_years": int(people.age[visit]),
            "sex": SEXES[int(people.sex[visit])],
            "visit_kind": _kind(results, visit, dice),
            "tester": clinic.testers[int(diary.tester[visit])].code,
            "irrigator": irrigator.code,
            "recorder": clinic.recorders[int(diary.recorder[visit])].code,
            "medium": irrigator.delivery.medium,
            "protocol_planned": course.protocol,
            "head_elevation_deg": 30 if clinic.export.recording else None,
            "sign_convention": clinic.export.sign_convention,
            "incomplete_reason": course.incomplete,
            "adverse_event": course.adverse,
        }
        return {name: value for name, value in heading.items() if value is not None}

    def _blocks(self, visit: int, dice: list[float]) -> Document:
        export, people = self._clinic.export, self._results.people
        blocks: Document = {}
        if export.spontaneous is not None:
            blocks["spontaneous"] = _spontaneous(
                float(people.spontaneous[visit]), export.spontaneous, dice
            )
        if export.otoscopy:
            right, left = people.otoscopy[visit].tolist()
            blocks["otoscopy"] = {"right": OTOSCOPY[right], "left": OTOSCOPY[left]}
        if export.background:
            blocks["background"] = _background(self._results, visit, dice)
        if export.recording:
            recorder = self._clinic.recorders[int(self._results.diary.recorder[visit])]
            blocks["recording"] = {
                "method": recorder.method,
                "eye": "both" if dice[5] < 0.85 else "right",
                "vision_denied": "covered" if dice[6] < 0.9 else "dark_open",
                "alerting": "given" if dice[7] < 0.97 else "not_given",
            }
        return blocks


def _kind(results: Results, visit: int, dice: list[float]) -> str:
    if results.people.follow_up[visit]:
        return "repeat_of_unusable" if dice[2] < 0.06 else "follow_up"
    if GROUP_NAMES[int(results.people.group[visit])] == "volunteer":
        return "volunteer"
    return "training" if dice[2] < 0.007 else "first"


def _spontaneous(speed: float, handling: str, dice: list[float]) -> Document:
    """What was seen before the first irrigation; ``handling`` is what the clinic's system does."""
    speed = round(speed, 1) + 0.0
    if speed == 0.0:
        return {"spv": 0.0, "kind": "none", "handling": "not_removed"}
    kind = "steady_horizontal" if dice[3] < 0.95 or handling == "removed" else "lifelong"
    return {"spv": speed, "kind": kind, "handling": handling}


def _suppressants(chance: float) -> str:
    return "none" if chance < 0.9 else "taken" if chance < 0.94 else "not_asked"


def _background(results: Results, visit: int, dice: list[float]) -> Document:
    people = results.people
    ear = int(people.weak_ear[visit])
    if dice[8] > 0.8:
        ear = int(dice[9] * 4)
    group = GROUP_NAMES[int(people.group[visit])]
    block = {
        "referral_group": group,
        "symptomatic_ear": "neither" if group == "volunteer" else _SYMPTOMATIC[ear],
        "suppressants_48h": _suppressants(dice[10]),
    }
    if group != "volunteer":
        block["onset_band"] = ONSET_BANDS[int(people.onset[visit])]
    return block
