"""Every write of the roster leaves an audit event in the same transaction, or nothing at all."""

from __future__ import annotations

import pytest
from django.db import transaction

from registry.access.scope import clinic_scope
from registry.models import AuditEvent, Irrigator, Tester

# A function called tester_... imported by name would be taken for a test.
from registry.roster import testers
from registry.roster.devices import device_change, device_create
from registry.roster.events import equipment_event_record
from registry.roster.temperature_checks import (
    temperature_check_record,
    temperature_check_withdraw,
)
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db
WHO = {"by": TEST_ACTOR, "at": NOW}
CHECK = {
    "irrigator": "IR-2",
    "checked_at": "2026-03-02T08:00:00Z",
    "stimulus": "warm",
    "set_temperature_c": 44,
    "reading_c": 44,
}
EVENT = {"kind": "moved", "happened_at": "2026-03-02T08:00:00Z", "irrigator": "IR-2"}


@pytest.fixture
def clinic(make_clinic):
    clinic = make_clinic()
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        yield clinic


def a_tester(clinic):
    return Tester.objects.get(clinic=clinic, code="T-07").id


def an_irrigator(clinic):
    return Irrigator.objects.get(clinic=clinic, code="IR-2").id


def withdraw_a_check(clinic):
    check = temperature_check_record(clinic=clinic, data=CHECK, **WHO).check
    temperature_check_withdraw(clinic=clinic, check_id=check.id, **WHO)


WRITES = {
    "tester.created": lambda clinic: testers.tester_create(
        clinic=clinic, data={"code": "T-20"}, **WHO
    ),
    "tester.changed": lambda clinic: testers.tester_change(
        clinic=clinic, tester_id=a_tester(clinic), data={"experience_band": "gt5y"}, **WHO
    ),
    "irrigator.created": lambda clinic: device_create(
        Irrigator, clinic=clinic, data={"code": "IR-20"}, **WHO
    ),
    "irrigator.changed": lambda clinic: device_change(
        Irrigator,
        clinic=clinic,
        device_id=an_irrigator(clinic),
        data={"retired_at": "2026-03-01"},
        **WHO,
    ),
    "temperature_check.recorded": lambda clinic: temperature_check_record(
        clinic=clinic, data=CHECK, **WHO
    ),
    "temperature_check.withdrawn": withdraw_a_check,
    "equipment_event.recorded": lambda clinic: equipment_event_record(
        clinic=clinic, data=EVENT, **WHO
    ),
}


@pytest.mark.parametrize("action", WRITES)
def test_a_write_leaves_its_event(clinic, action):
    WRITES[action](clinic)

    event = AuditEvent.objects.get(action=action)
    assert (event.actor, event.role, event.at) == ("test", "operator", NOW)
    assert event.clinic_id == clinic.pk


@pytest.mark.parametrize("action", WRITES)
def test_where_the_event_cannot_be_written_nothing_is(clinic, action, monkeypatch):
    def fail(*args, **kwargs):
        raise RuntimeError

    for room in ("testers", "devices", "temperature_checks", "events"):
        monkeypatch.setattr(f"registry.roster.{room}.record", fail)
    before = rows(clinic)

    with pytest.raises(RuntimeError), transaction.atomic():
        WRITES[action](clinic)

    assert rows(clinic) == before


def rows(clinic):
    from registry.models import EquipmentEvent, TemperatureCheck

    return [
        list(model.objects.filter(clinic_id=clinic.pk).order_by("id").values())
        for model in (Tester, Irrigator, TemperatureCheck, EquipmentEvent)
    ]


def test_a_change_that_changes_nothing_leaves_no_event(clinic):
    testers.tester_change(
        clinic=clinic, tester_id=a_tester(clinic), data={"active_to": None}, **WHO
    )

    assert not AuditEvent.objects.filter(action="tester.changed").exists()
