"""The rules between fields, each broken once and each kept once at its limit.

Expected directions: warm towards the irrigated ear, cool away from it (common practice). A
monothermal or bithermal irrigation stands for one ear alone, hence no two ears at once.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from registry.intake.checks import AnyCode, KnownCodes, check_visit
from registry.intake.checks.build import NOT_SENT
from tests.registry.intake.visits import (
    DIRECTORY,
    TODAY,
    a_visit,
    check,
    faults_of,
    with_irrigation,
    with_repeat,
)


def undated(day: str) -> dict[str, Any]:
    """A visit of that day whose irrigations carry no time."""
    visit = a_visit(visit_date=day)
    for one in visit["irrigations"]:
        del one["started_at"]
    return visit


def test_today_is_no_future_and_tomorrow_is() -> None:
    assert faults_of(undated("2026-06-01")) == []
    assert faults_of(undated("2026-06-02")) == [("/visit_date", "date_in_future")]


def test_the_oldest_day_taken_is_the_first_of_1990() -> None:
    assert faults_of(undated("1990-01-01")) == []
    assert faults_of(undated("1989-12-31")) == [("/visit_date", "date_too_old")]


def test_an_irrigation_may_start_on_a_neighbouring_day_of_utc_but_no_farther() -> None:
    assert faults_of(with_irrigation(0, started_at="2026-03-03T23:59:59Z")) == []
    assert faults_of(with_irrigation(0, started_at="2026-03-04T00:00:00Z")) == [
        ("/irrigations/0/started_at", "started_at_not_on_visit_date")
    ]


@pytest.mark.parametrize(
    ("name", "code", "expected"),
    [
        ("tester", "T-99", "unknown_tester"),
        ("irrigator", "IR-9", "unknown_irrigator"),
        ("recorder", "RC-9", "unknown_recorder"),
    ],
)
def test_a_code_the_clinic_does_not_know_is_refused(name: str, code: str, expected: str) -> None:
    assert faults_of(a_visit(**{name: code})) == [(f"/{name}", expected)]


@pytest.mark.parametrize(
    ("name", "code", "expected"),
    [
        ("tester", "T-99", "unknown_tester"),
        ("peak_set_by", "T-99", "unknown_tester"),
        ("irrigator", "IR-9", "unknown_irrigator"),
    ],
)
def test_codes_of_an_irrigation_are_looked_up_too(name: str, code: str, expected: str) -> None:
    assert faults_of(with_irrigation(3, **{name: code})) == [(f"/irrigations/3/{name}", expected)]


def test_a_second_tester_and_irrigator_may_take_over_during_the_visit() -> None:
    visit = with_irrigation(3, tester="T-08", irrigator="IR-3", medium="air", peak_set_by="T-08")

    assert faults_of(visit) == []


@pytest.mark.parametrize(
    ("kind", "code", "expected"),
    [
        ("tester", "T-07", "tester_not_active"),
        ("irrigator", "IR-2", "irrigator_not_in_service"),
        ("recorder", "RC-1", "recorder_not_in_service"),
    ],
)
def test_a_code_must_have_been_active_on_the_day_itself(
    kind: str, code: str, expected: str
) -> None:
    def on(day: str, first: date | None, last: date | None) -> list[tuple[str, str]]:
        spans = {kind: {code: (first, last)}}
        directory = KnownCodes(DIRECTORY.testers, DIRECTORY.irrigators, DIRECTORY.recorders, spans)
        return faults_of(undated(day), directory=directory)

    first, last = date(2026, 1, 10), date(2026, 1, 20)

    assert on("2026-01-10", first, last) == on("2026-01-20", first, last) == []
    assert on("2026-01-09", first, None) == [(f"/{kind}", expected)]
    assert on("2026-01-21", None, last) == [(f"/{kind}", expected)]


@pytest.mark.parametrize(
    ("position", "temperature", "is_fine"),
    [(0, 37.1, True), (0, 37, False), (0, 30, False), (2, 36.9, True), (2, 37, False)],
)
def test_warm_is_above_body_temperature_and_cool_below(
    position: int, temperature: float, is_fine: bool
) -> None:
    faults = faults_of(with_irrigation(position, set_temperature_c=temperature))

    pointer = f"/irrigations/{position}/set_temperature_c"
    assert faults == ([] if is_fine else [(pointer, "temperature_contradicts_stimulus")])


def test_ice_needs_no_temperature_and_is_never_above_body_temperature() -> None:
    ice = {"stimulus": "ice", "beat_direction": "left"}

    assert faults_of(with_irrigation(2, **ice, set_temperature_c=None)) == []
    assert faults_of(with_irrigation(2, **ice, set_temperature_c=4)) == []
    assert faults_of(with_irrigation(2, **ice, set_temperature_c=44)) == [
        ("/irrigations/2/set_temperature_c", "temperature_contradicts_stimulus")
    ]


def test_the_temperature_may_be_absent_where_it_is_not_asked_for() -> None:
    visit = with_irrigation(0, set_temperature_c=None)

    assert faults_of(visit, need_set_temperature=False) == []


def test_two_irrigations_of_one_cell_and_attempt_are_refused() -> None:
    assert faults_of(with_repeat()) == []
    assert faults_of(with_repeat(attempt=1)) == [("/irrigations/4", "cell_attempt_repeated")]


def test_an_attempt_that_is_left_out_counts_as_the_first() -> None:
    visit = with_repeat()
    del visit["irrigations"][4]["attempt"]

    assert faults_of(visit) == [("/irrigations/4", "cell_attempt_repeated")]


def test_attempts_have_no_gaps() -> None:
    assert faults_of(with_repeat(attempt=3)) == [("/irrigations/4/attempt", "attempts_have_gaps")]


def test_the_order_of_attempts_in_the_list_means_nothing() -> None:
    visit = with_repeat()
    visit["irrigations"].reverse()

    assert faults_of(visit) == []


def test_two_irrigations_of_one_ear_cannot_have_the_same_place_in_the_order() -> None:
    assert faults_of(with_repeat(order_in_visit=1)) == [
        ("/irrigations/4/order_in_visit", "order_in_visit_repeated")
    ]


def test_both_ears_at_once_are_not_supported() -> None:
    same_place = with_irrigation(1, order_in_visit=1)
    same_time = with_irrigation(1, started_at="2026-03-02T10:16:00+01:00")

    assert faults_of(same_place) == [
        ("/irrigations/1/order_in_visit", "simultaneous_not_supported")
    ]
    assert faults_of(same_time) == [("/irrigations/1/started_at", "simultaneous_not_supported")]


def test_a_usable_irrigation_needs_a_peak_or_beats() -> None:
    beats = {"time_s": [40, 41.5], "spv": [20.1, 22]}

    assert faults_of(with_irrigation(0, peak_spv=None)) == [
        ("/irrigations/0/peak_spv", "peak_needed")
    ]
    assert faults_of(with_irrigation(0, peak_spv=None, beats=beats)) == []
    assert faults_of(with_irrigation(0, peak_spv=None, usable=False)) == []


def test_a_peak_that_was_refused_is_not_called_missing_as_well() -> None:
    assert faults_of(with_irrigation(0, peak_spv=999)) == [
        ("/irrigations/0/peak_spv", "out_of_range")
    ]


@pytest.mark.parametrize(
    ("beats", "pointer", "code"),
    [
        ({"time_s": [2, 1], "spv": [1, 1]}, "/time_s/1", "beats_not_increasing"),
        ({"time_s": [1, 1], "spv": [1, 1]}, "/time_s/1", "beats_not_increasing"),
        ({"time_s": [1, 2, 3], "spv": [1, 1]}, "", "beats_unequal_length"),
        ({"time_s": [], "spv": []}, "/time_s", "list_empty"),
        ({"time_s": [1]}, "/spv", "required"),
        ({"time_s": [1], "spv": 3}, "/spv", "not_a_list"),
        ({"time_s": [1], "spv": ["3"]}, "/spv/0", "not_a_number"),
        ({"time_s": [1], "spv": [True]}, "/spv/0", "not_a_number"),
        ({"time_s": [1], "spv": [None]}, "/spv/0", "not_a_number"),
        ({"time_s": [1, 2], "spv": [3, float("nan")]}, "/spv/1", "not_finite"),
        ({"time_s": [-0.1], "spv": [3]}, "/time_s/0", "out_of_range"),
        ({"time_s": [600.1], "spv": [3]}, "/time_s/0", "out_of_range"),
        ({"time_s": list(range(1001)), "spv": [1]}, "/time_s", "list_too_long"),
        ({"time_s": [1], "spv": [3], "who": 1}, "", "unknown_field"),
        ([1, 2], "", "not_an_object"),
    ],
)
def test_beats_are_two_lists_in_order_of_time(beats: object, pointer: str, code: str) -> None:
    assert faults_of(with_irrigation(0, beats=beats)) == [(f"/irrigations/0/beats{pointer}", code)]


def test_a_thousand_beats_up_to_ten_minutes_are_kept() -> None:
    times = [0.6 * (beat + 1) for beat in range(999)] + [600]
    visit, faults = check(with_irrigation(0, beats={"time_s": times, "spv": [20] * 1000}))

    assert faults == []
    assert visit is not None
    assert visit.irrigations[0].beats is not None
    assert visit.irrigations[0].beats.time_s[-1] == 600.0


def test_a_list_that_is_wrong_throughout_does_not_bury_the_other_faults() -> None:
    faults = faults_of(with_irrigation(0, beats={"time_s": ["x"] * 900, "spv": [1]}, ear="up"))

    assert len(faults) < 20
    assert ("/irrigations/0/ear", "not_in_list") in faults


def test_fixation_has_two_ends_in_order() -> None:
    pointer = "/irrigations/0/fixation_to_s"

    assert faults_of(with_irrigation(0, fixation_from_s=100, fixation_to_s=110)) == []
    assert faults_of(with_irrigation(0, fixation_from_s=110, fixation_to_s=110)) == [
        (pointer, "fixation_ends_before_start")
    ]
    assert faults_of(with_irrigation(0, fixation_from_s=100)) == [
        (pointer, "fixation_interval_open")
    ]
    assert faults_of(with_irrigation(0, fixation_to_s=100)) == [
        ("/irrigations/0/fixation_from_s", "fixation_interval_open")
    ]


def test_a_reason_for_not_being_usable_needs_an_irrigation_that_is_not() -> None:
    reason = ["eyes_closed", "low_alertness"]

    assert faults_of(with_irrigation(0, usable=False, unusable_reason=reason)) == []
    assert faults_of(with_irrigation(0, usable=False)) == []
    for usable in (True, None):
        assert faults_of(with_irrigation(0, usable=usable, unusable_reason=reason)) == [
            ("/irrigations/0/unusable_reason", "unusable_reason_but_usable")
        ]


def test_what_is_not_usable_cannot_count() -> None:
    assert faults_of(with_irrigation(0, usable=False, counts=True)) == [
        ("/irrigations/0/counts", "counts_but_not_usable")
    ]


def test_one_attempt_of_a_cell_counts() -> None:
    visit = with_repeat(counts=True)
    assert faults_of(visit) == []

    visit["irrigations"][0]["counts"] = True

    assert faults_of(visit) == [("/irrigations/4/counts", "counts_twice")]


@pytest.mark.parametrize("kind", ["none", "direction_changing", "vertical", "lifelong", None])
def test_only_a_steady_horizontal_nystagmus_can_have_been_removed(kind: str | None) -> None:
    removed = {"spv": 4, "handling": "removed", "kind": kind}

    assert faults_of(a_visit(spontaneous=removed)) == [
        ("/spontaneous/handling", "removed_needs_steady_horizontal")
    ]
    assert faults_of(a_visit(spontaneous=removed | {"kind": "steady_horizontal"})) == []


@pytest.mark.parametrize(
    ("convention", "peak", "is_fine"),
    [
        ("expected_positive", 20, True),
        ("expected_positive", -20, False),
        ("right_beating_positive", 20, True),
        ("right_beating_positive", -20, False),
        ("slow_phase_right_positive", -20, True),
        ("slow_phase_right_positive", 20, False),
        ("unsigned", 20, True),
    ],
)
def test_a_peak_must_agree_with_its_beat_direction(
    convention: str, peak: float, is_fine: bool
) -> None:
    """A right-warm response that beats right, in each way of signing it."""
    visit = with_irrigation(0, peak_spv=peak, beat_direction="right")

    faults = faults_of(visit | {"sign_convention": convention})

    assert faults == ([] if is_fine else [("/irrigations/0/peak_spv", "sign_conflict")])


def test_a_sign_conflict_is_told_beside_other_faults_at_its_own_place() -> None:
    visit = with_irrigation(2, peak_spv=-20, beat_direction="left")
    visit["irrigations"][0] = "no object"
    del visit["tester"]

    assert faults_of(visit) == [
        ("/irrigations/0", "not_an_object"),
        ("/tester", "required"),
        ("/irrigations/2/peak_spv", "sign_conflict"),
    ]


def test_a_reduced_visit_needs_its_irrigations_alone() -> None:
    cells = [{"ear": "right", "stimulus": "warm", "peak_spv": 20}]

    visit, faults = check_visit(
        {"irrigations": cells}, directory=KnownCodes(), today=TODAY, reduced=True
    )

    assert faults == []
    assert visit is not None
    assert visit.tester == visit.visit_ref == NOT_SENT
    assert visit.irrigations[0].set_temperature_c is None


def test_a_reduced_visit_is_still_guarded_and_still_refuses_what_is_unknown() -> None:
    visit = a_visit(tester="anna-smith") | {"extra": 1}

    assert set(faults_of(visit, reduced=True)) == {
        ("/tester", "looks_like_identifier"),
        ("", "unknown_field"),
    }
    assert faults_of({"sign_convention": "unsigned"}, reduced=True) == [
        ("/irrigations", "required")
    ]


def test_a_directory_of_any_code_lets_every_code_pass() -> None:
    visit = a_visit(tester="T-99", irrigator="IR-9", recorder="RC-9")

    assert faults_of(visit, directory=AnyCode()) == []
