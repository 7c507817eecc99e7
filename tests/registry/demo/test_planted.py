"""Every planted fault shows in the generated files, and its neighbours do not show it.

The limits are plain ones: beyond 4 standard errors for the fault, within 3 for the others.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from registry.demo import equipment_events, scenario, temperature_checks
from registry.demo.faults import PLANTED, start_day
from tests.registry.demo.conftest import UNTIL
from tests.registry.demo.results_read import four_peaks, peaks

PLANTED_FILE = Path(__file__).parents[3] / "fixtures" / "demo" / "planted.json"
START = UNTIL - timedelta(days=730)


@pytest.fixture(scope="module")
def planted():
    return json.loads(PLANTED_FILE.read_text())["faults"]


def day(text):
    return (date.fromisoformat(text[:10]) - START).days


def clinic(code):
    return next(c for c in scenario().clinics if c.code == code)


def of(visits, kind, code):
    return [visit for visit in visits if visit[kind] == code]


def before_and_after(visits, first):
    return (
        [v for v in visits if day(v["visit_date"]) < first],
        [v for v in visits if day(v["visit_date"]) >= first],
    )


def mean_and_error(values):
    return np.mean(values), np.std(values, ddof=1) / len(values) ** 0.5


def change(values_before, values_after):
    """The change of the mean, and how many standard errors it is."""
    (old, old_error), (new, new_error) = map(mean_and_error, (values_before, values_after))
    return new - old, (new - old) / np.hypot(old_error, new_error)


def level(visits):
    """Log of twice the larger ear's total: a patient's weak ear does not count."""
    found = four_peaks(visits)
    larger = np.maximum(found[:, [0, 2]].sum(axis=1), found[:, [1, 3]].sum(axis=1))
    return np.log(2 * larger[larger > 12])


def warm_over_cool(visits):
    found = four_peaks(visits)
    found = found[(found > 2).all(axis=1)]
    return np.log(found[:, :2].sum(axis=1) / found[:, 2:].sum(axis=1))


def test_the_list_written_by_hand_says_what_the_generator_does(planted):
    assert planted == {name: asdict(fault) for name, fault in PLANTED.items()}


def test_one_testers_responses_run_a_quarter_weak_from_the_second_year(full, planted):
    fault = planted["weak_responses"]
    first = start_day(fault["from_month"])
    moved = {}
    for tester in clinic(fault["clinic"]).testers:
        old, new = before_and_after(of(full[fault["clinic"]], "tester", tester.code), first)
        moved[tester.code] = change(level(old), level(new))

    weak, errors = moved.pop(fault["tester"])
    assert np.exp(weak) == pytest.approx(fault["factor"], abs=0.06)
    assert errors < -4
    assert len(moved) == 2
    assert all(abs(errors) < 3 for _, errors in moved.values())


def test_one_tester_rounds_every_peak_to_fives(full, planted):
    fault = planted["rounded_peaks"]
    shares = {}
    for tester in clinic(fault["clinic"]).testers:
        visits = of(full[fault["clinic"]], "tester", tester.code)
        found = np.array([p for v in visits for p in peaks(v).values() if abs(p) >= 5])
        shares[tester.code] = np.mean(found % fault["step"] == 0)

    assert shares.pop(fault["tester"]) == 1
    # One tenth in fifty is a multiple of 5.
    assert list(shares.values()) == pytest.approx([0.02, 0.02], abs=0.01)


def readings(checks, irrigator, stimulus=None):
    """Day and reading minus set temperature of each check of an irrigator."""
    chosen = [
        c for c in checks if c["irrigator"] == irrigator and stimulus in (None, c["stimulus"])
    ]
    return (
        np.array([day(c["checked_at"]) for c in chosen]),
        np.array([c["reading_c"] - c["set_temperature_c"] for c in chosen]),
    )


@pytest.mark.parametrize("stimulus", ["warm", "cool"])
def test_one_irrigators_readings_rise_a_tenth_a_month(planted, stimulus):
    fault = planted["drifting_irrigator"]
    checks = temperature_checks(scenario(), clinic(fault["clinic"]), until=UNTIL)
    slopes = {}
    for irrigator in clinic(fault["clinic"]).irrigators:
        days, error = readings(checks, irrigator.code, stimulus)
        late = days >= start_day(fault["from_month"])
        slopes[irrigator.code] = 30.4375 * np.polyfit(days[late], error[late], 1)[0]

    assert slopes.pop(fault["irrigator"]) == pytest.approx(fault["c_per_month"], abs=0.03)
    assert all(abs(slope) < 0.03 for slope in slopes.values())


def test_the_drift_makes_warm_responses_grow_against_cool_ones(full, planted):
    fault = planted["drifting_irrigator"]
    moved = {}
    for irrigator in clinic(fault["clinic"]).irrigators:
        visits = of(full[fault["clinic"]], "irrigator", irrigator.code)
        old, _ = before_and_after(visits, start_day(fault["from_month"]))
        _, late = before_and_after(visits, start_day(fault["from_month"] + 2))
        moved[irrigator.code] = change(warm_over_cool(old), warm_over_cool(late))

    drifted, errors = moved.pop(fault["irrigator"])
    # Derived: from month 20 to 24 it stands 0.4 Cel high, so ln(7.4/7) - ln(6.6/7) = 0.114.
    assert drifted == pytest.approx(0.114, abs=0.06)
    assert errors > 3
    assert all(abs(errors) < 3 for _, errors in moved.values())


def beats_the_wrong_way(visit):
    return sum(peak < -2 for peak in peaks(visit).values()) >= 3


def test_one_clinic_exchanged_the_ears_for_a_fortnight(full, planted):
    fault = planted["ears_exchanged"]
    in_time = [
        v
        for v in full[fault["clinic"]]
        if fault["first_day"] <= day(v["visit_date"]) <= fault["last_day"]
    ]
    found = four_peaks(in_time)

    assert fault["last_day"] - fault["first_day"] == 13
    assert len(in_time) >= 15
    assert np.mean([beats_the_wrong_way(v) for v in in_time]) > 0.7
    # Both warm responses of a visit are negative once signed by their labels.
    assert np.median(found[:, 0]) < -10
    assert np.median(found[:, 1]) < -10


def test_no_other_clinic_and_no_other_day_shows_exchanged_ears(full, planted):
    fault = planted["ears_exchanged"]
    elsewhere = [
        visit["visit_ref"]
        for code, visits in full.items()
        for visit in visits
        if beats_the_wrong_way(visit)
        and not (
            code == fault["clinic"]
            and fault["first_day"] <= day(visit["visit_date"]) <= fault["last_day"]
        )
    ]

    assert len(elsewhere) < 5


def test_one_tester_repeats_in_a_third_of_the_visits(full, planted):
    fault = planted["many_repeats"]
    first = start_day(fault["from_month"])
    shares = {}
    for tester in clinic(fault["clinic"]).testers:
        visits = of(full[fault["clinic"]], "tester", tester.code)
        halves = before_and_after(visits, first)
        shares[tester.code] = [
            np.mean([any(i["attempt"] > 1 for i in v["irrigations"]) for v in half])
            for half in halves
        ]

    old, new = shares.pop(fault["tester"])
    assert old < 0.12
    assert new == pytest.approx(fault["share"], abs=0.05)
    assert all(share < 0.12 for both in shares.values() for share in both)


def test_one_irrigator_fails_its_check_and_is_used_until_a_second_one_fails(full, planted):
    fault = planted["failed_check"]
    checks = temperature_checks(scenario(), clinic(fault["clinic"]), until=UNTIL)
    days, error = readings(checks, fault["irrigator"])
    failed = np.abs(error) > 0.5
    tested = np.array(
        [
            day(v["visit_date"])
            for v in full[fault["clinic"]]
            if v["irrigator"] == fault["irrigator"]
        ]
    )
    removed = {c["stimulus"]: day(c["checked_at"]) for c in checks if c["action"] == "removed"}

    assert failed[days >= fault["first_day"]].all()
    assert not failed[days < fault["first_day"]].any()
    first_failure = days[failed].min()
    assert first_failure < min(removed.values()) <= fault["last_day"]
    assert np.sum((tested > first_failure) & (tested <= fault["last_day"])) >= 5
    assert tested.max() <= fault["last_day"]
    assert set(removed) == {"warm", "cool"}


@pytest.mark.parametrize("until", [UNTIL + timedelta(days=shift) for shift in range(7)])
def test_whatever_the_weekday_of_the_end_the_failed_check_comes_before_the_last(until):
    checks = temperature_checks(scenario(), clinic("MIR"), until=until)
    failed = [
        c
        for c in checks
        if c["irrigator"] == "IR-26" and abs(c["reading_c"] - c["set_temperature_c"]) > 0.5
    ]

    assert {c["action"] for c in failed} == {"none", "removed"}
    assert failed[0]["action"] == "none"
    assert failed[-1]["action"] == "removed"


def test_no_other_irrigator_leaves_its_tolerance_for_long(planted):
    named = {planted["drifting_irrigator"]["irrigator"], planted["failed_check"]["irrigator"]}
    for one in scenario().clinics:
        checks = temperature_checks(scenario(), one, until=UNTIL)
        for irrigator in one.irrigators:
            if irrigator.code not in named:
                _, error = readings(checks, irrigator.code)
                assert np.mean(np.abs(error) > 0.401) < 0.01, irrigator.code


def test_the_removed_irrigator_is_replaced_after_its_last_day(planted):
    fault = planted["failed_check"]
    events = equipment_events(scenario(), clinic(fault["clinic"]), until=UNTIL)
    replaced = [e for e in events if e["event"] == "replaced"]

    assert [e["irrigator"] for e in replaced] == [fault["irrigator"]]
    assert day(replaced[0]["happened_at"]) == fault["last_day"]
    assert events == sorted(events, key=lambda e: e["happened_at"])


def test_checks_follow_the_clinics_policy():
    for one in scenario().clinics:
        checks = temperature_checks(scenario(), one, until=UNTIL)
        code = one.irrigators[0].code
        days, _ = readings(checks, code, "warm")
        usual_gap = 1 if one.settings.temperature_checks == "daily" else 7

        assert np.median(np.diff(days)) == usual_gap
        assert datetime.fromisoformat(checks[0]["checked_at"]).utcoffset() is not None


def test_checks_and_events_are_the_same_every_time():
    for one in scenario().clinics:
        first = temperature_checks(scenario(), one, until=UNTIL)
        assert temperature_checks(scenario(), one, until=UNTIL) == first
        events = equipment_events(scenario(), one, until=UNTIL)
        assert equipment_events(scenario(), one, until=UNTIL) == events
