"""One row an irrigation, in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import tzinfo
from typing import Any

from registry.caloric.visit import Irrigation
from registry.pages.figures import beating_words, rounded, spv_words
from registry.pages.moments import clock_words
from registry.pages.timecourse import TimeCourse, time_course
from registry.pages.words import irrigation_name, say

Json = Mapping[str, Any]
Pairs = list[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class IrrigationRow:
    """``name`` is how findings point at it; ``more`` are label and words of the rest."""

    name: str
    title: str
    ear: str
    stimulus: str
    attempt: int
    peak: str
    against: bool
    basis: str
    temperature: str
    duration: str
    counts: bool
    counts_why: str
    more: Pairs
    course: TimeCourse | None


def irrigation_rows(visit: Json, zone: tzinfo) -> list[IrrigationRow]:
    """The rows of a visit's body, in the order they were given."""
    responses = {one["irrigation"]: one for one in visit.get("responses") or ()}
    return [_row(visit, one, responses, zone) for one in visit["irrigations"]]


def name_of(irrigation: Json) -> str:
    return f"{irrigation['ear']}_{irrigation['stimulus']}_{irrigation.get('attempt') or 1}"


def as_irrigation(irrigation: Json) -> Irrigation:
    """As much of it as says which way it should beat."""
    return Irrigation(
        ear=irrigation["ear"],
        stimulus=irrigation["stimulus"],
        position=irrigation.get("position"),
    )


def _row(visit: Json, one: Json, responses: Mapping[str, Json], zone: tzinfo) -> IrrigationRow:
    name = name_of(one)
    response = responses.get(name, {})
    # The response's peak is positive as expected, whatever way the visit was signed when sent.
    peak = response.get("peak_spv")
    known = visit.get("directions_known") is not False or bool(one.get("beat_direction"))
    return IrrigationRow(
        name=name,
        title=irrigation_name(name),
        ear=say("ear", one["ear"]),
        stimulus=say("stimulus", one["stimulus"]),
        attempt=one.get("attempt") or 1,
        peak=_speed(one, peak, known),
        against=peak is not None and known and peak < 0,
        basis=say("peak_basis", one.get("peak_basis") or response.get("peak_basis")),
        temperature=_temperature(one),
        duration=_with_unit(one.get("duration_s"), "s"),
        counts=bool(response.get("counts")),
        counts_why=_counts(one, response, peak),
        more=_more(one, response, known, zone),
        course=time_course(one, response),
    )


def _speed(one: Json, value: float | None, known: bool) -> str:
    if value is None:
        return "no peak"
    return spv_words(as_irrigation(one), value, direction_known=known)


def _temperature(one: Json) -> str:
    set_to, measured = one.get("set_temperature_c"), one.get("measured_temperature_c")
    said = "not set" if set_to is None else f"set {rounded(set_to, 1)} °C"
    if measured is None:
        return f"{said}, not measured"
    return (
        f"{said}, measured {rounded(measured, 1)} °C ({say('measured_by', one.get('measured_by'))})"
    )


def _with_unit(value: float | None, unit: str) -> str:
    return "not recorded" if value is None else f"{value:g} {unit}"


def _counts(one: Json, response: Json, peak: float | None) -> str:
    if response.get("counts"):
        return "counts"
    if one.get("usable") is False:
        reasons = ", ".join(
            say("unusable_reason", code) for code in one.get("unusable_reason") or ()
        )
        return f"does not count: not usable ({reasons or 'reason not recorded'})"
    if peak is None:
        return "does not count: no peak"
    return "does not count: another attempt counts"


def _more(one: Json, response: Json, known: bool, zone: tzinfo) -> Pairs:
    """Only what was recorded; an empty line for each absent field would hide the others."""
    pairs: Pairs = []
    if one.get("order_in_visit"):
        pairs.append(("place in the visit", str(one["order_in_visit"])))
    if one.get("started_at"):
        pairs.append(("started", clock_words(one["started_at"], zone)))
    if one.get("volume_ml") is not None:
        pairs.append(("volume", _with_unit(one["volume_ml"], "mL")))
    pairs += _fixation(one, known)
    if response.get("computed_peak_spv") is not None:
        pairs.append(("peak from its beats", _from_beats(one, response, known)))
    elif one.get("beats"):
        pairs.append(("peak from its beats", say("no_peak_reason", response.get("no_peak_reason"))))
    if one.get("baseline_spv") is not None:
        pairs.append(("nystagmus just before", beating_words(one["baseline_spv"])))
    for field, label in _WORD_FIELDS:
        if one.get(field):
            pairs.append((label, say(field, one[field])))
    for field, label in _CODE_FIELDS:
        if one.get(field):
            pairs.append((label, str(one[field])))
    return pairs


_WORD_FIELDS = (
    ("medium", "medium, where it was not the visit's"),
    ("position", "position"),
    ("vertical_component", "vertical component"),
    ("repeat_reason", "reason of the repeat"),
)
_CODE_FIELDS = (
    ("tester", "tester, where not the visit's"),
    ("irrigator", "irrigator, where not the visit's"),
    ("peak_set_by", "peak set by"),
    ("earlier_attempts_not_sent", "earlier attempts not sent"),
)


def _fixation(one: Json, known: bool) -> Pairs:
    pairs: Pairs = []
    if one.get("pre_fixation_spv") is not None:
        pairs.append(("just before fixation", _speed(one, one["pre_fixation_spv"], known)))
    if one.get("fixation_spv") is not None:
        pairs.append(("with fixation", _speed(one, one["fixation_spv"], known)))
    return pairs


def _from_beats(one: Json, response: Json, known: bool) -> str:
    said = _speed(one, response["computed_peak_spv"], known)
    error, at = response.get("computed_peak_se"), response.get("culmination_time_s")
    parts = [said]
    if error is not None:
        parts.append(f"standard error {rounded(error, 1)} deg/s")
    if at is not None:
        parts.append(f"culmination {at:g} s after onset")
    return "; ".join(parts)
