"""Two senders at once: neither overwrites the other."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connections

from registry.access.scope import clinic_scope
from registry.models import EquipmentEvent, Irrigator, TemperatureCheck
from registry.roster.conflicts import CodeInUse
from registry.roster.devices import device_create
from registry.roster.events import equipment_event_record
from registry.roster.temperature_checks import temperature_check_record
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db(transaction=True, databases=["default", "owner"])


def at_once(clinic, *deeds):
    """Run each deed in a thread, a connection and a scope of its own; what each gave or raised."""
    gate = Barrier(len(deeds))

    def run(deed):
        try:
            with clinic_scope([clinic.pk], by=TEST_ACTOR):
                gate.wait(timeout=10)
                return deed()
        except CodeInUse as error:
            return error
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(deeds)) as pool:
        return list(pool.map(run, deeds))


def a_reading(clinic, minute):
    data = {
        "irrigator": "IR-2",
        "checked_at": f"2026-03-02T08:{minute:02}:00Z",
        "stimulus": "warm",
        "set_temperature_c": 44,
        "reading_c": 46,
    }
    return lambda: temperature_check_record(clinic=clinic, data=data, by=TEST_ACTOR, at=NOW)


def test_two_bad_readings_at_once_still_put_the_irrigator_out_of_use(make_clinic):
    clinic = make_clinic()

    at_once(clinic, a_reading(clinic, 0), a_reading(clinic, 10))

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        assert Irrigator.objects.get(code="IR-2").out_of_use_since is not None


def test_the_same_reading_sent_twice_at_once_is_one_check(make_clinic):
    clinic = make_clinic()

    recorded = at_once(clinic, *[a_reading(clinic, 0)] * 3)

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        assert TemperatureCheck.objects.count() == 1
    assert sorted(one.created for one in recorded) == [False, False, True]


def test_the_same_event_sent_twice_at_once_is_one_event(make_clinic):
    clinic = make_clinic()
    data = {"kind": "moved", "happened_at": "2026-03-02T08:00:00Z", "irrigator": "IR-2"}

    at_once(
        clinic,
        *[lambda: equipment_event_record(clinic=clinic, data=data, by=TEST_ACTOR, at=NOW)] * 3,
    )

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        assert EquipmentEvent.objects.count() == 1


def test_of_two_devices_with_one_label_at_once_one_is_refused(make_clinic):
    clinic = make_clinic()

    made = at_once(
        clinic,
        *[
            lambda: device_create(
                Irrigator, clinic=clinic, data={"code": "IR-9"}, by=TEST_ACTOR, at=NOW
            )
        ]
        * 2,
    )

    assert sorted(isinstance(one, CodeInUse) for one in made) == [False, True]
