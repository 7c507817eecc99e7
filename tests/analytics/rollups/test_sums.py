"""Sums of testers' months: computed twice, exact after every change, safe to repeat and to kill."""

from __future__ import annotations

import math
from datetime import date

import numpy as np
import pytest

from analytics.measures import catalogue
from analytics.models import Cell, CheckCell, RetestPair, SubjectSummary
from analytics.rollups import refresh
from analytics.rollups.rebuild import clinic_mark_all
from analytics.rollups.refresh import clinic_refresh_chunk
from registry.access.scope import clinic_scope
from registry.intake.erase import subject_erase
from registry.intake.submit import visit_submit, visit_withdraw
from registry.models import ChangedKey, Tester, Visit
from registry.roster.temperature_checks import temperature_check_record
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db
LETTERS = "BCDFGHJKLMNPQRSTVWXZ"


def ref(kind, number):
    return f"{kind}-{LETTERS[number // 20 % 20]}{LETTERS[number % 20]}XQ"


def submit(clinic, data):
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        return visit_submit(clinic=clinic, data=data, by=TEST_ACTOR, at=NOW, via="api")


def refreshed(clinic):
    while clinic_refresh_chunk(clinic.pk, at=NOW).more:
        continue


def sums_of(clinic, **filters):
    """n and s by measure, over all cells."""
    names = [measure.id for measure in catalogue().scored]
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        cells = list(Cell.objects.filter(clinic_id=clinic.pk, **filters))
    n = np.sum([cell.n for cell in cells], axis=0) if cells else np.zeros(len(names))
    s = np.sum([cell.s for cell in cells], axis=0) if cells else np.zeros(len(names))
    return {name: (n[at], s[at]) for at, name in enumerate(names)}


def random_visit(draw, number, payload):
    """A plain visit with a repeat now and then; peaks in tenths, all in the expected direction."""
    peaks = [round(float(peak), 1) for peak in draw.lognormal(3.0, 0.5, 4)]
    data = payload(
        peaks=tuple(peaks),
        visit_ref=ref("V", number),
        subject_ref=ref("S", number),
        visit_date=date(2025, 1 + int(draw.integers(12)), 1 + int(draw.integers(28))).isoformat(),
        tester=["T-07", "T-08"][int(draw.integers(2))],
        age_years=int(draw.integers(20, 90)),
    )
    for place, one in enumerate(data["irrigations"], 1):
        one["order_in_visit"] = place
    if draw.random() < 0.3:
        again = dict(data["irrigations"][0])
        again |= {"attempt": 2, "order_in_visit": 5, "repeat_reason": "eyes_closed"}
        again["peak_spv"] = peaks[0] = round(peaks[0] + 1.5, 1)
        data["irrigations"].append(again)
    return data, peaks


def plainly(visits):
    """The same measures by plain arithmetic from what was sent, for the counted responses."""
    found = {name: [0.0, 0.0] for name in ("balance", "level", "ratio", "repeats", "whole", "weak")}
    for data, (rw, rc, lw, lc) in visits:
        total, u = rw + rc + lw + lc, 100 * (rw + rc - lw - lc) / (rw + rc + lw + lc)
        if total >= 24:
            add(found["balance"], u * (1 - (u / 55) ** 2) ** 2 if abs(u) < 55 else 0.0)
            ratio = math.log((rw + lw) / (rc + lc)) - 0.34
            add(found["ratio"], min(max(ratio, -0.5), 0.5))
        larger = math.log(2 * max(rw + rc, lw + lc) / 90)
        add(found["level"], min(max(larger, -0.8), 0.8))
        add(found["repeats"], float(len(data["irrigations"]) > 4))
        for one in data["irrigations"]:
            if one["peak_spv"] >= 5:
                add(found["whole"], float(one["peak_spv"] == int(one["peak_spv"])))
    return found


def add(sums, value):
    sums[0] += 1
    sums[1] += value


def test_every_sum_is_what_plain_arithmetic_gives(make_clinic, visit_payload):
    clinic, draw = make_clinic(), np.random.default_rng(5)
    visits = [random_visit(draw, number, visit_payload) for number in range(40)]
    for data, _ in visits:
        submit(clinic, data)

    refreshed(clinic)

    expected, found = plainly(visits), sums_of(clinic)
    for name, measure in (
        ("balance", "right_left_balance"),
        ("level", "response_level"),
        ("ratio", "warm_cool_ratio"),
        ("repeats", "repeats_by_visit"),
        ("whole", "digits_whole"),
    ):
        assert found[measure] == pytest.approx(expected[name], abs=1e-9), name


def test_sums_by_tester_and_month_add_up_and_a_second_time_changes_nothing(
    make_clinic, visit_payload
):
    clinic, draw = make_clinic(), np.random.default_rng(6)
    for number in range(12):
        submit(clinic, random_visit(draw, number, visit_payload)[0])
    refreshed(clinic)
    before = sums_of(clinic)
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        keys = set(Cell.objects.values_list("tester_id", "month"))
        visits = set(Visit.objects.values_list("tester_id", "visit_date"))

    clinic_mark_all(clinic.pk, at=NOW)
    refreshed(clinic)

    assert keys == {(tester, day.replace(day=1)) for tester, day in visits}
    # The rows come in no fixed order, so the last bit of a sum may differ.
    assert sums_of(clinic) == {name: pytest.approx(value) for name, value in before.items()}


def test_a_change_is_taken_from_the_old_month_and_added_to_nothing_else(make_clinic, visit_payload):
    clinic = make_clinic()
    kept = visit_payload(visit_ref="V-KKKK", subject_ref="S-KKKK")
    submit(clinic, kept)
    submit(clinic, visit_payload(visit_date="2026-02-02"))
    refreshed(clinic)

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        gone = Visit.objects.get(visit_ref="V-KQMPX")
        visit_withdraw(clinic=clinic, visit_id=gone.id, by=TEST_ACTOR, at=NOW)
    refreshed(clinic)

    assert sums_of(clinic)["response_level"][0] == 1
    assert sums_of(clinic, month=date(2026, 2, 1))["response_level"][0] == 0


def test_an_erased_person_is_in_no_sum(make_clinic, visit_payload):
    clinic = make_clinic()
    submit(clinic, visit_payload())
    refreshed(clinic)
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        subject_erase(clinic=clinic, subject_ref="S-HTKQB", by=TEST_ACTOR, at=NOW)

    refreshed(clinic)

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        assert not Cell.objects.exists()


def test_training_and_other_hands_are_kept_apart(make_clinic, visit_payload):
    clinic = make_clinic()
    submit(clinic, visit_payload(visit_kind="training"))
    shared = visit_payload(visit_ref="V-SHRD", subject_ref="S-SHRD")
    shared["irrigations"][3]["tester"] = "T-08"
    submit(clinic, shared)

    refreshed(clinic)

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        hands = {Tester.objects.get(id=cell.tester_id).code: cell for cell in Cell.objects.all()}
    at = [measure.id for measure in catalogue().scored].index("response_level")
    peaks = [measure.id for measure in catalogue().scored].index("digits_whole")
    # Four responses of two hands are nobody's level, but each answers for the peaks it read.
    assert {code: (cell.n[at], cell.n[peaks]) for code, cell in hands.items()} == {
        "T-07": (0, 3),
        "T-08": (0, 1),
    }


@pytest.mark.django_db(transaction=True)
def test_a_worker_killed_in_the_middle_leaves_the_sums_as_they_were_and_the_keys(
    make_clinic, visit_payload, monkeypatch
):
    class Killed(BaseException):
        pass

    def killed(*_args, **_more):
        raise Killed

    clinic = make_clinic()
    submit(clinic, visit_payload())
    refreshed(clinic)
    before = sums_of(clinic)
    submit(clinic, visit_payload(visit_ref="V-XXKQ", subject_ref="S-XXKQ"))
    monkeypatch.setattr(refresh, "pairs_replace", killed)
    with pytest.raises(Killed):
        clinic_refresh_chunk(clinic.pk, at=NOW)
    monkeypatch.undo()

    after_the_kill = sums_of(clinic)
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        waiting = ChangedKey.objects.count()
    refreshed(clinic)

    assert after_the_kill == before
    assert waiting > 0
    assert sums_of(clinic)["response_level"][0] == 2


def test_only_what_changed_is_summed_and_marked(make_clinic, visit_payload):
    clinic = make_clinic()
    submit(clinic, visit_payload())
    submit(clinic, visit_payload(visit_ref="V-XXKQ", subject_ref="S-XXKQ", tester="T-08"))
    refreshed(clinic)
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        SubjectSummary.objects.update(moved_at=None)
        before = dict(Cell.objects.values_list("tester_id", "id"))
    submit(clinic, visit_payload(visit_ref="V-XXLQ", subject_ref="S-XXLQ", tester="T-08"))

    done = clinic_refresh_chunk(clinic.pk, at=NOW)

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        codes = {one.id: one.code for one in Tester.objects.all()}
        after = dict(Cell.objects.values_list("tester_id", "id"))
        moved = SubjectSummary.objects.filter(subject_kind="tester", moved_at__isnull=False)
        assert [codes[one.subject_id] for one in moved] == ["T-08"]
    assert done.visits == 2
    assert {codes[one] for one in before if before[one] == after[one]} == {"T-07"}


@pytest.mark.parametrize(
    ("moment", "month"),
    [
        # Local midnight decides, on both days of the clock change too.
        ("2025-03-31T21:30:00Z", date(2025, 3, 1)),
        ("2025-03-31T22:30:00Z", date(2025, 4, 1)),
        ("2025-10-31T22:30:00Z", date(2025, 10, 1)),
        ("2025-10-31T23:30:00Z", date(2025, 11, 1)),
    ],
)
def test_a_reading_belongs_to_the_month_it_is_at_the_clinic(make_clinic, moment, month):
    clinic = make_clinic(time_zone="Europe/Vienna")
    reading = {
        "irrigator": "IR-2",
        "checked_at": moment,
        "stimulus": "warm",
        "set_temperature_c": 44.0,
        "reading_c": 44.2,
    }
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        temperature_check_record(clinic=clinic, data=reading, by=TEST_ACTOR, at=NOW)

    refreshed(clinic)

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        cell = CheckCell.objects.get()
    assert (cell.month, cell.readings, cell.within) == (month, 1, 1)
    assert cell.s == pytest.approx(0.2)


def test_a_person_seen_again_makes_a_pair_until_the_first_visit_goes(make_clinic, visit_payload):
    clinic = make_clinic()
    first = visit_payload(visit_date="2026-01-05", visit_ref="V-FRST", peaks=(20, 20, 20, 20))
    submit(clinic, first)
    submit(clinic, visit_payload(visit_date="2026-02-05", peaks=(30, 30, 20, 20), tester="T-08"))
    far = visit_payload(visit_date="2025-09-05", visit_ref="V-FRXX")
    submit(clinic, far)
    refreshed(clinic)

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        pair = RetestPair.objects.get()
        visit_withdraw(
            clinic=clinic,
            visit_id=Visit.objects.get(visit_ref="V-FRST").id,
            by=TEST_ACTOR,
            at=NOW,
        )
    refreshed(clinic)

    assert (pair.days, pair.weakness, pair.earlier_weakness) == (31, pytest.approx(20.0), 0.0)
    assert pair.tester_id != pair.earlier_tester_id
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        assert not RetestPair.objects.exists()


def test_a_table_of_bare_peaks_does_not_say_that_nothing_was_repeated(make_clinic, visit_payload):
    clinic = make_clinic()
    submit(clinic, visit_payload())

    refreshed(clinic)

    assert sums_of(clinic)["repeats_by_visit"] == (0, 0)
