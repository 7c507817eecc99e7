"""Testers and devices: what may be said of them."""

from __future__ import annotations

import uuid
from datetime import UTC, date
from functools import partial

import pytest

from registry.access.scope import clinic_scope
from registry.models import Irrigator, Recorder, Tester, Thermometer

# A function called tester_... imported by name would be taken for a test.
from registry.roster import testers
from registry.roster.body import RosterRefused, read_change, read_new
from registry.roster.catalogue import DETAIL
from registry.roster.conflicts import CodeInUse
from registry.roster.devices import (
    DeviceNotFound,
    device_change,
    device_create,
    device_in_service,
    devices_of,
)
from registry.roster.fields import CHECK_FIELDS, DEVICE_FIELDS, EVENT_FIELDS, TESTER_FIELDS
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db
WHO = {"by": TEST_ACTOR, "at": NOW}
EACH_KIND = pytest.mark.parametrize("kind", [Irrigator, Recorder, Thermometer])


@pytest.fixture
def clinic(make_clinic):
    clinic = make_clinic()
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        yield clinic


def faults_of(call):
    with pytest.raises(RosterRefused) as refused:
        call()
    return [(fault.pointer, fault.code) for fault in refused.value.faults]


def test_a_tester_cannot_end_before_the_start(clinic):
    data = {"code": "T-20", "active_from": "2026-02-02", "active_to": "2026-02-01"}

    found = faults_of(lambda: testers.tester_create(clinic=clinic, data=data, **WHO))

    assert found == [("/active_to", "ends_before_start")]


def test_a_tester_may_work_a_single_day(clinic):
    data = {"code": "T-20", "active_from": "2026-02-01", "active_to": "2026-02-01"}

    tester = testers.tester_create(clinic=clinic, data=data, **WHO)

    assert tester.active_from == tester.active_to == date(2026, 2, 1)


def test_a_change_is_checked_against_what_is_stored(clinic):
    data = {"code": "T-20", "active_from": "2026-02-02"}
    tester = testers.tester_create(clinic=clinic, data=data, **WHO)

    found = faults_of(
        lambda: testers.tester_change(
            clinic=clinic, tester_id=tester.id, data={"active_to": "2026-02-01"}, **WHO
        )
    )

    assert found == [("/active_to", "ends_before_start")]
    assert Tester.objects.get(clinic=clinic, id=tester.id).active_to is None


def test_a_testers_code_is_taken_even_when_the_tester_left(clinic):
    data = {"code": "T-20", "active_to": "2026-02-01"}
    testers.tester_create(clinic=clinic, data=data, **WHO)

    with pytest.raises(CodeInUse):
        testers.tester_create(clinic=clinic, data={"code": "T-20"}, **WHO)


def test_a_tester_nobody_knows_is_not_found(clinic):
    with pytest.raises(testers.TesterNotFound):
        testers.tester_change(
            clinic=clinic, tester_id=uuid.uuid4(), data={"active_to": None}, **WHO
        )


@EACH_KIND
def test_a_label_in_service_is_taken_and_a_retired_one_is_free(clinic, kind):
    first = device_create(kind, clinic=clinic, data={"code": "X-20"}, **WHO)
    with pytest.raises(CodeInUse):
        device_create(kind, clinic=clinic, data={"code": "X-20"}, **WHO)

    device_change(kind, clinic=clinic, device_id=first.id, data={"retired_at": "2026-02-01"}, **WHO)
    second = device_create(kind, clinic=clinic, data={"code": "X-20"}, **WHO)

    assert second.id != first.id
    assert devices_of(kind, clinic=clinic).filter(code="X-20").count() == 2


@EACH_KIND
def test_a_device_cannot_retire_before_it_started(clinic, kind):
    data = {"code": "X-20", "in_service_from": "2026-02-02", "retired_at": "2026-02-01"}

    found = faults_of(lambda: device_create(kind, clinic=clinic, data=data, **WHO))

    assert found == [("/retired_at", "ends_before_start")]


@pytest.mark.parametrize("value", [-0.1, 10.1, float("nan"), "0.1", True])
def test_an_uncertainty_that_is_none_is_refused(clinic, value):
    data = {"code": "X-20", "uncertainty_c": value}

    found = faults_of(lambda: device_create(Thermometer, clinic=clinic, data=data, **WHO))

    assert [pointer for pointer, _ in found] == ["/uncertainty_c"]


@EACH_KIND
def test_a_device_of_another_clinic_is_not_found(clinic, make_clinic, kind):
    device = device_create(kind, clinic=clinic, data={"code": "X-20"}, **WHO)
    other = make_clinic("CL-B")

    with clinic_scope([other.pk], by=TEST_ACTOR), pytest.raises(DeviceNotFound):
        device_change(
            kind, clinic=other, device_id=device.id, data={"retired_at": "2026-01-01"}, **WHO
        )


@pytest.mark.parametrize(
    ("on", "found"),
    [("2026-01-31", 0), ("2026-02-01", 1), ("2026-02-10", 1), ("2026-02-11", 0)],
)
def test_a_device_is_in_service_from_its_first_to_its_last_day(clinic, on, found):
    data = {"code": "X-20", "in_service_from": "2026-02-01", "retired_at": "2026-02-10"}
    device_create(Recorder, clinic=clinic, data=data, **WHO)

    there = device_in_service(Recorder, clinic=clinic, code="X-20", on=date.fromisoformat(on))

    assert there == "recorder_not_in_service" if not found else isinstance(there, Recorder)


def test_null_says_not_recorded(clinic):
    data = {"code": "T-20", "experience_band": None, "active_from": None}

    tester = testers.tester_create(clinic=clinic, data=data, **WHO)

    assert (tester.experience_band, tester.active_from) == (None, None)


def test_a_needed_field_cannot_be_null():
    assert faults_of(lambda: read_new({"code": None}, TESTER_FIELDS, zone=UTC)) == [
        ("/code", "required")
    ]


@pytest.mark.parametrize("data", [None, [], "x", 3])
def test_only_an_object_is_an_entry(data):
    assert ("", "not_an_object") in faults_of(lambda: read_new(data, TESTER_FIELDS, zone=UTC))
    assert ("", "not_an_object") in faults_of(
        lambda: read_change(data, TESTER_FIELDS, fixed=(), zone=UTC)
    )


def test_every_code_a_refusal_may_hold_has_its_sentence():
    odd = {"": 0, "code": "a b", "active_from": 1}
    for fields in (TESTER_FIELDS, DEVICE_FIELDS, CHECK_FIELDS, EVENT_FIELDS):
        codes = [
            code
            for value in (odd, {field.name: [] for field in fields})
            for _, code in faults_of(partial(read_new, value, fields, zone=UTC))
        ]
        assert codes
        assert all(DETAIL[code] for code in codes)
