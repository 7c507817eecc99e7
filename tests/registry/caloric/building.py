"""Visits for the tests: four equal responses of 20 deg/s unless a test says otherwise."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

from registry.caloric.compute import Computed, compute_visit
from registry.caloric.criteria import DEFAULT_CRITERIA, CriteriaSet
from registry.caloric.findings import Finding
from registry.caloric.visit import Beats, Irrigation, Otoscopy, Spontaneous, Visit

FOUR = {"right_warm": 20.0, "left_warm": 20.0, "right_cool": 20.0, "left_cool": 20.0}
NINE = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
SET_TEMPERATURES = {"warm": 44.0, "cool": 30.0}
CLEAR = Otoscopy(right="clear", left="clear")


def irrigation(cell: str, peak: float | None = 20.0, **fields: Any) -> Irrigation:
    """One irrigation of a cell such as ``right_warm``."""
    ear, stimulus = cell.split("_")
    fields.setdefault("set_temperature_c", SET_TEMPERATURES.get(stimulus))
    return Irrigation(ear=ear, stimulus=stimulus, peak_spv=peak, **fields)


def visit(*irrigations: Irrigation, **fields: Any) -> Visit:
    """A visit of these irrigations, or of the four cells with the speeds of ``peaks``."""
    peaks = {**FOUR, **fields.pop("peaks", {})}
    four = tuple(irrigation(cell, peak) for cell, peak in peaks.items())
    plain: dict[str, Any] = {
        "visit_ref": "V-KQMPX",
        "subject_ref": "S-HTKQB",
        "visit_date": date(2026, 3, 2),
        "age_years": 54,
        "tester": "T-07",
        "irrigator": "IR-2",
        "medium": "water_open",
        "irrigations": irrigations or four,
    }
    return Visit(**{**plain, **fields})


def changed(sent: Visit, cell: str, **fields: Any) -> Visit:
    """The visit with some fields of one cell's first attempt changed."""
    return replace(
        sent,
        irrigations=tuple(
            replace(one, **fields) if one.cell == cell and one.attempt == 1 else one
            for one in sent.irrigations
        ),
    )


def steady(spv: float | None, handling: str | None = "not_removed") -> Spontaneous:
    """A steady horizontal spontaneous nystagmus, right-beating positive."""
    return Spontaneous(spv=spv, kind="steady_horizontal", handling=handling)


def at(minutes: float, seconds: float = 0) -> datetime:
    """So long after nine o'clock on the day of the visit."""
    return NINE + timedelta(minutes=minutes, seconds=seconds)


def response_beats(peak: float, *, step: float = 0.7, baseline: float = 0.0) -> Beats:
    """A response that rises to ``peak`` at 75 s and falls again, on top of ``baseline``."""
    times = [10 + step * place for place in range(int(150 / step))]
    # A small regular wobble stands for the spread of real beats.
    speeds = [
        baseline + peak * max(0.0, 1 - ((time - 75) / 70) ** 2) + 0.4 * ((place * 7) % 5 - 2)
        for place, time in enumerate(times)
    ]
    return Beats(tuple(times), tuple(speeds))


def found(code: str, sent: Visit, **rules: Any) -> list[Finding]:
    """The findings of that code."""
    return [one for one in compute_visit(sent, **rules).findings if one.code == code]


def codes(computed: Computed) -> list[str]:
    """Codes of the assessments, in order."""
    return [one.code for one in computed.assessments]


def criteria(**values: float) -> CriteriaSet:
    """The default set with some limits at another number."""
    body = DEFAULT_CRITERIA.to_json()
    for limit in body["limits"]:
        limit["value"] = values.get(limit["code"], limit["value"])
    return CriteriaSet.from_json(body)
