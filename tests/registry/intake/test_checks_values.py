"""One field at a time: each wrong kind of value is refused, with its place and a reason.

The closed lists, ranges and needed fields are the registry's own published contract.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from registry.intake.checks import has_identifier
from registry.intake.fields import GROUPS, IRRIGATION_FIELDS, VISIT_FIELDS
from tests.registry.intake.visits import a_visit, check, faults_of, with_irrigation

EVERY_FIELD = [
    *((("",), field) for field in VISIT_FIELDS),
    *(((group,), field) for group, fields in GROUPS.items() for field in fields),
    *((("irrigations", 0), field) for field in IRRIGATION_FIELDS),
]


def visit_with(path: tuple[Any, ...], name: str, value: object) -> dict[str, Any]:
    visit = a_visit()
    holder: Any = visit
    for step in path:
        if step != "":
            holder = holder.setdefault(step, {}) if isinstance(holder, dict) else holder[step]
    holder[name] = value
    return visit


def pointer_to(path: tuple[Any, ...], name: str) -> str:
    return "".join(f"/{step}" for step in path if step != "") + f"/{name}"


def test_a_whole_visit_passes_with_every_value_kept() -> None:
    visit, faults = check(a_visit())

    assert faults == []
    assert visit is not None
    assert visit.visit_ref == "V-KQMPX"
    assert visit.head_elevation_deg == 30.0
    assert visit.irrigations[0].peak_spv == 31.2
    assert visit.irrigations[0].started_at == datetime(2026, 3, 2, 9, 16, tzinfo=UTC)
    assert visit.spontaneous is not None
    assert visit.spontaneous.spv == 1.5
    assert visit.recording is None


@pytest.mark.parametrize("name", [field.name for field in VISIT_FIELDS if field.needed])
def test_a_needed_field_of_the_visit_may_not_be_missing(name: str) -> None:
    assert faults_of(a_visit(**{name: None})) == [(f"/{name}", "required")]


@pytest.mark.parametrize("name", ["ear", "stimulus", "set_temperature_c"])
def test_a_needed_field_of_an_irrigation_may_not_be_missing(name: str) -> None:
    faults = faults_of(with_irrigation(2, **{name: None}))

    assert faults == [(f"/irrigations/2/{name}", "required")]


def test_null_means_not_recorded() -> None:
    with_nulls = a_visit() | {"sex": None, "recording": None, "reported": {"total_spv": None}}
    without = a_visit(sex=None, recording=None, reported=None)

    assert check(with_nulls) == check(without)
    assert faults_of(a_visit() | {"tester": None}) == [("/tester", "required")]


@pytest.mark.parametrize("value", [True, ["x"], {"x": 1}])
@pytest.mark.parametrize(("path", "field"), EVERY_FIELD, ids=lambda part: getattr(part, "name", ""))
def test_a_value_of_another_type_is_refused_in_every_field(
    path: tuple[Any, ...], field: Any, value: object
) -> None:
    if field.kind == "yes_no" and value is True:
        value = 1
    expected = {
        "code": "not_text",
        "word": "not_text",
        "words": "not_a_list",
        "number": "not_a_number",
        "whole": "not_a_number",
        "yes_no": "not_true_or_false",
        "date": "not_a_date",
        "time": "not_a_time",
    }[field.kind]
    if field.kind == "words" and value == ["x"]:
        expected = "not_in_list"

    faults = faults_of(visit_with(path, field.name, value))

    assert (pointer_to(path, field.name), expected) in faults


@pytest.mark.parametrize("value", ["31.2", "31,2", "NaN", "", True])
def test_a_number_in_quotes_is_no_number(value: object) -> None:
    faults = faults_of(with_irrigation(0, peak_spv=value))

    assert faults == [("/irrigations/0/peak_spv", "not_a_number")]


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_not_finite_is_refused(value: float) -> None:
    faults = faults_of(with_irrigation(0, peak_spv=value))

    assert faults == [("/irrigations/0/peak_spv", "not_finite")]


@pytest.mark.parametrize(
    ("name", "inside", "outside"),
    [
        ("peak_spv", 200, 200.001),
        ("peak_spv", -200, -200.001),
        ("measured_temperature_c", 60, 60.1),
        ("fixation_spv", 200, 201),
        ("attempt", 1, 0),
        ("attempt", 1, 10**400),
    ],
)
def test_a_range_holds_its_limits_and_nothing_beyond(
    name: str, inside: float, outside: float
) -> None:
    assert faults_of(with_irrigation(0, **{name: inside})) == []
    assert faults_of(with_irrigation(0, **{name: outside})) == [
        (f"/irrigations/0/{name}", "out_of_range")
    ]


@pytest.mark.parametrize(("sent", "stored"), [(0, 0), (89, 89), (90, 90), (97, 90), (120, 90)])
def test_ages_of_90_and_more_are_stored_as_one(sent: int, stored: int) -> None:
    """45 CFR 164.514(b)(2)(i)(C): all ages over 89 may be aggregated into 90 or older."""
    visit, _ = check(a_visit(age_years=sent))

    assert visit is not None
    assert visit.age_years == stored


@pytest.mark.parametrize(("sent", "code"), [(-1, "out_of_range"), (121, "out_of_range")])
def test_an_impossible_age_is_refused(sent: int, code: str) -> None:
    assert faults_of(a_visit(age_years=sent)) == [("/age_years", code)]


def test_an_age_has_no_decimals() -> None:
    assert faults_of(a_visit(age_years=54.5)) == [("/age_years", "not_a_whole_number")]
    assert faults_of(a_visit(age_years=54.0)) == []


@pytest.mark.parametrize(
    "text", ["02/03/2026", "03.02.2026", "2026-3-2", "20260302", "2026-W10-1", "2026-02-30", ""]
)
def test_only_an_iso_day_is_a_date_and_no_other_order_is_guessed(text: str) -> None:
    assert faults_of(a_visit(visit_date=text)) == [("/visit_date", "not_a_date")]


@pytest.mark.parametrize(
    "text", ["09:10", "2026-03-02", "2026-03-02T09:10Z", "2026-03-02T25:00:00Z", "02.03.2026 09:10"]
)
def test_only_an_rfc_3339_time_is_a_time(text: str) -> None:
    faults = faults_of(with_irrigation(0, started_at=text))

    assert faults == [("/irrigations/0/started_at", "not_a_time")]


def test_a_time_without_an_offset_is_refused_unless_the_clinics_zone_is_known() -> None:
    visit = with_irrigation(0, started_at="2026-03-02T09:10:00")

    assert faults_of(visit) == [("/irrigations/0/started_at", "time_without_offset")]
    read_there, _ = check(visit, zone=ZoneInfo("Europe/Paris"))
    assert read_there is not None
    assert read_there.irrigations[0].started_at == datetime(2026, 3, 2, 8, 10, tzinfo=UTC)


def test_a_time_with_an_offset_is_kept_in_utc() -> None:
    visit, _ = check(with_irrigation(0, started_at="2026-03-02T09:10:00+05:30"))

    assert visit is not None
    started = visit.irrigations[0].started_at
    assert started == datetime(2026, 3, 2, 3, 40, tzinfo=UTC)
    assert started is not None
    assert started.tzinfo is UTC


@pytest.mark.parametrize(
    ("data", "pointer", "position"),
    [
        (a_visit() | {"Jo Doe": 1}, "", 15),
        (a_visit(otoscopy={"right": "clear", "Jo Doe": "x"}), "/otoscopy", 2),
        (with_irrigation(1, **{"Jo Doe": "x"}), "/irrigations/1", 9),
    ],
)
def test_an_unknown_field_is_refused_by_position_and_never_named(
    data: dict[str, Any], pointer: str, position: int
) -> None:
    _, faults = check(data)

    assert [(fault.pointer, fault.code) for fault in faults] == [(pointer, "unknown_field")]
    assert faults[0].position == position
    assert "Doe" not in repr(faults)


@pytest.mark.parametrize(
    ("path", "name"),
    [(path, field.name) for path, field in EVERY_FIELD if field.kind == "code"],
)
def test_every_code_is_guarded_and_no_identifier_comes_back(
    path: tuple[Any, ...], name: str
) -> None:
    _, faults = check(visit_with(path, name, "anna.smith@example.org"))

    assert has_identifier(faults)
    assert [(fault.pointer, fault.code) for fault in faults] == [
        (pointer_to(path, name), "looks_like_identifier")
    ]
    assert "anna" not in repr(faults)


@pytest.mark.parametrize("text", ["V", "x" * 41, "V/KQ", "V-KÄ"])
def test_a_code_of_other_characters_or_lengths_is_refused(text: str) -> None:
    _, faults = check(a_visit(visit_ref=text))

    assert [(fault.pointer, fault.code) for fault in faults] == [("/visit_ref", "code_not_allowed")]
    assert not has_identifier(faults)


@pytest.mark.parametrize("data", [None, [], "visit", 3, True])
def test_a_visit_is_an_object(data: object) -> None:
    assert ("", "not_an_object") in faults_of(data)


@pytest.mark.parametrize(
    ("irrigations", "code"),
    [([], "list_empty"), ({}, "not_a_list"), ("x", "not_a_list"), ([{}] * 17, "list_too_long")],
)
def test_irrigations_are_a_list_of_1_to_16(irrigations: object, code: str) -> None:
    assert faults_of(a_visit(irrigations=irrigations)) == [("/irrigations", code)]


def test_sixteen_irrigations_are_not_too_many() -> None:
    one = {"ear": "right", "stimulus": "warm", "set_temperature_c": 44, "peak_spv": 20}
    attempts = [one | {"attempt": attempt} for attempt in range(1, 17)]

    assert faults_of(a_visit(irrigations=attempts)) == []


def test_an_irrigation_and_a_group_are_objects() -> None:
    visit = a_visit(recording="video")
    visit["irrigations"][3] = "left cool"

    assert faults_of(visit) == [
        ("/recording", "not_an_object"),
        ("/irrigations/3", "not_an_object"),
    ]


def test_a_word_outside_its_list_is_refused_also_in_other_letters() -> None:
    assert faults_of(a_visit(sex="Female")) == [("/sex", "not_in_list")]


def test_a_reason_may_not_be_listed_twice() -> None:
    visit = with_irrigation(0, usable=False, unusable_reason=["eyes_closed", "eyes_closed"])

    assert faults_of(visit) == [("/irrigations/0/unusable_reason", "item_repeated")]


def test_a_peak_said_to_be_computed_here_needs_its_beats() -> None:
    faults = faults_of(with_irrigation(0, peak_basis="computed_v1"))

    assert faults == [("/irrigations/0/peak_basis", "computed_without_beats")]


def test_a_peak_that_came_back_from_the_registry_is_computed_again() -> None:
    beats = {"time_s": [60.0, 61.0], "spv": [20.0, 21.0]}
    sent = with_irrigation(0, peak_basis="computed_v1", peak_spv=99.0, beats=beats)

    visit, _ = check(sent)
    assert visit is not None

    assert (visit.irrigations[0].peak_spv, visit.irrigations[0].peak_basis) == (None, None)


def test_every_fault_comes_at_once() -> None:
    visit = with_irrigation(1, peak_spv="x", set_temperature_c=20)
    visit |= {"sex": "f", "tester": "T-99", "visit_date": "2027-01-01"}

    assert set(faults_of(visit)) == {
        ("/sex", "not_in_list"),
        ("/irrigations/1/peak_spv", "not_a_number"),
        ("/visit_date", "date_in_future"),
        ("/tester", "unknown_tester"),
        ("/irrigations/1/set_temperature_c", "temperature_contradicts_stimulus"),
    } | {(f"/irrigations/{at}/started_at", "started_at_not_on_visit_date") for at in range(4)}
