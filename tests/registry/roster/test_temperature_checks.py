"""Readings of temperature: within tolerance or not, and what two in a row mean.

Tolerance and the rule of two readings in a row: common practice, no source.
"""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from registry.access.scope import clinic_scope
from registry.models import AuditEvent, Irrigator, TemperatureCheck
from registry.roster.body import RosterRefused
from registry.roster.temperature_checks import (
    CheckDiffers,
    CheckNotFound,
    is_within_tolerance,
    temperature_check_record,
    temperature_check_withdraw,
)
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db
MORNING = datetime.fromisoformat("2026-03-02T08:00:00+00:00")
GOOD, BAD = 44.0, 45.0


@pytest.fixture
def clinic(make_clinic):
    clinic = make_clinic()
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        yield clinic


def read(clinic, reading, *, minute=0, stimulus="warm", set_to=44.0, **more):
    data = {
        "irrigator": "IR-2",
        "checked_at": (MORNING + timedelta(minutes=minute)).isoformat(),
        "stimulus": stimulus,
        "set_temperature_c": set_to,
        "reading_c": reading,
    }
    return temperature_check_record(clinic=clinic, data=data | more, by=TEST_ACTOR, at=NOW)


def withdraw(clinic, recorded):
    temperature_check_withdraw(clinic=clinic, check_id=recorded.check.id, by=TEST_ACTOR, at=NOW)


def out_of_use_since(clinic):
    return Irrigator.objects.get(clinic=clinic, code="IR-2").out_of_use_since


@pytest.mark.parametrize(
    ("reading", "set_to", "tolerance", "within"),
    [
        (44.5, 44.0, 0.5, True),
        (43.5, 44.0, 0.5, True),
        (44.51, 44.0, 0.5, False),
        (43.49, 44.0, 0.5, False),
        # 30.3 - 30.0 is 0.30000000000000071 in binary, and within all the same.
        (30.3, 30.0, 0.3, True),
        (30.3000001, 30.0, 0.3, False),
        (44.0, 44.0, 0.0, True),
    ],
)
def test_the_limit_itself_is_within_tolerance(reading, set_to, tolerance, within):
    judged = is_within_tolerance(reading_c=reading, set_temperature_c=set_to, tolerance_c=tolerance)

    assert judged is within


def test_the_clinics_own_tolerance_is_used_and_kept_beside_the_reading(clinic):
    clinic.procedure = {"temperature_tolerance_c": 0.3}
    clinic.save(update_fields=["procedure"])

    check = read(clinic, 44.4).check

    assert (check.within_tolerance, check.tolerance_c) == (False, 0.3)


def test_the_first_bad_reading_asks_for_a_second_and_decides_nothing(clinic):
    recorded = read(clinic, BAD)

    assert recorded.confirming_reading_needed
    assert out_of_use_since(clinic) is None


def test_the_second_bad_reading_in_a_row_puts_the_irrigator_out_of_use(clinic):
    read(clinic, BAD)

    recorded = read(clinic, BAD, minute=10)

    assert not recorded.confirming_reading_needed
    assert out_of_use_since(clinic) == MORNING + timedelta(minutes=10)


def test_a_third_bad_reading_does_not_move_the_time(clinic):
    for minute in (0, 10, 20):
        read(clinic, BAD, minute=minute)

    assert out_of_use_since(clinic) == MORNING + timedelta(minutes=10)


def test_a_good_reading_between_two_bad_ones_breaks_the_row(clinic):
    for minute, reading in ((0, BAD), (10, GOOD), (20, BAD)):
        recorded = read(clinic, reading, minute=minute)

    assert recorded.confirming_reading_needed
    assert out_of_use_since(clinic) is None


def test_a_good_reading_afterwards_puts_it_back_into_use(clinic):
    for minute in (0, 10):
        read(clinic, BAD, minute=minute)

    read(clinic, GOOD, minute=20)

    assert out_of_use_since(clinic) is None


@pytest.mark.parametrize(
    "other",
    [{"stimulus": "cool", "set_to": 30.0, "reading": 31.0}, {"set_to": 45.0, "reading": 46}],
)
def test_bad_readings_of_two_series_are_not_in_a_row(clinic, other):
    read(clinic, BAD)

    recorded = read(clinic, minute=10, **other)

    assert recorded.confirming_reading_needed
    assert out_of_use_since(clinic) is None


def test_a_good_reading_of_another_series_puts_nothing_back_into_use(clinic):
    for minute in (0, 10):
        read(clinic, BAD, minute=minute)

    read(clinic, 30.0, stimulus="cool", set_to=30.0, minute=20)

    assert out_of_use_since(clinic) == MORNING + timedelta(minutes=10)


def test_readings_count_in_the_order_they_were_taken_not_sent(clinic):
    read(clinic, BAD, minute=20)
    read(clinic, GOOD, minute=30)

    read(clinic, BAD, minute=10)

    assert out_of_use_since(clinic) is None


def test_an_earlier_bad_reading_sent_late_completes_the_row(clinic):
    read(clinic, BAD, minute=20)

    recorded = read(clinic, BAD, minute=10)

    assert not recorded.confirming_reading_needed
    assert out_of_use_since(clinic) == MORNING + timedelta(minutes=20)


def test_withdrawing_one_of_the_two_puts_it_back_into_use(clinic):
    read(clinic, BAD)
    second = read(clinic, BAD, minute=10)

    withdraw(clinic, second)

    assert out_of_use_since(clinic) is None


def test_withdrawing_the_good_reading_puts_it_out_of_use_again(clinic):
    for minute in (0, 10):
        read(clinic, BAD, minute=minute)
    good = read(clinic, GOOD, minute=20)

    withdraw(clinic, good)

    assert out_of_use_since(clinic) == MORNING + timedelta(minutes=10)


def test_a_withdrawn_reading_is_kept_and_may_be_sent_right(clinic):
    wrong = read(clinic, BAD)
    withdraw(clinic, wrong)

    right = read(clinic, GOOD)

    assert right.created
    assert TemperatureCheck.objects.filter(clinic_id=clinic.pk).count() == 2


def test_withdrawing_twice_does_nothing_more(clinic):
    recorded = read(clinic, BAD)
    withdraw(clinic, recorded)

    withdraw(clinic, recorded)

    assert AuditEvent.objects.filter(action="temperature_check.withdrawn").count() == 1


def test_a_check_of_another_clinic_is_not_found(clinic, make_clinic):
    recorded = read(clinic, BAD)
    other = make_clinic("CL-B")

    with clinic_scope([other.pk], by=TEST_ACTOR), pytest.raises(CheckNotFound):
        withdraw(other, recorded)


def test_the_same_reading_again_gives_back_the_first(clinic):
    first = read(clinic, BAD)

    again = read(clinic, BAD)

    assert (again.created, again.check.id) == (False, first.check.id)
    assert again.confirming_reading_needed


def test_the_same_reading_without_a_phase_is_still_the_same(clinic):
    first, again = read(clinic, GOOD, phase=None), read(clinic, GOOD)

    assert again.check.id == first.check.id


def test_before_and_after_a_change_are_two_readings(clinic):
    read(clinic, BAD, phase="as_found")

    assert read(clinic, GOOD, phase="as_left").created


def test_another_reading_of_the_same_moment_is_told(clinic):
    read(clinic, BAD)

    with pytest.raises(CheckDiffers):
        read(clinic, GOOD)


def test_a_time_without_an_offset_is_the_clinics_own(clinic):
    clinic.time_zone = "Asia/Tokyo"
    clinic.save(update_fields=["time_zone"])

    check = read(clinic, GOOD, checked_at="2026-03-02T09:00:00").check

    assert check.checked_at == datetime.fromisoformat("2026-03-02T00:00:00+00:00")


def test_the_device_that_carried_the_label_on_that_day_is_meant(clinic):
    old = Irrigator.objects.get(clinic=clinic, code="IR-2")
    old.in_service_from, old.retired_at = MORNING.date(), MORNING.date()
    old.save(update_fields=["in_service_from", "retired_at"])
    Irrigator.objects.create(
        clinic=clinic,
        code="IR-2",
        in_service_from=MORNING.date() + timedelta(days=1),
        created_at=NOW,
    )

    on_the_day = read(clinic, GOOD).check
    day_after = read(clinic, GOOD, minute=24 * 60).check

    assert on_the_day.irrigator_id == old.id
    assert day_after.irrigator_id != old.id


def test_a_device_not_in_service_on_that_day_is_refused(clinic):
    irrigator = Irrigator.objects.get(clinic=clinic, code="IR-2")
    irrigator.in_service_from = MORNING.date() + timedelta(days=1)
    irrigator.save(update_fields=["in_service_from"])

    with pytest.raises(RosterRefused) as refused:
        read(clinic, GOOD)

    assert [(fault.pointer, fault.code) for fault in refused.value.faults] == [
        ("/irrigator", "irrigator_not_in_service")
    ]


def test_a_refusal_holds_nothing_of_what_was_sent(clinic):
    with pytest.raises(RosterRefused) as refused:
        read(clinic, GOOD, irrigator="mary.smith")

    assert "smith" not in f"{refused.value} {refused.value.faults}"


def test_recording_leaves_an_audit_event(clinic):
    recorded = read(clinic, BAD)

    event = AuditEvent.objects.get(action="temperature_check.recorded")
    assert event.object_id == str(recorded.check.id)
    assert event.detail == {"within_tolerance": False}
