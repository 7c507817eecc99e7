"""Testers, devices, temperature checks and equipment events by the API."""

from __future__ import annotations

import uuid

import pytest

from registry.access.scope import clinic_scope
from registry.models import AuditEvent
from tests.conftest import TEST_ACTOR
from tests.registry.api.conftest import CHECK, EVENT

pytestmark = pytest.mark.django_db
ROOT = "/api/v1/"
CHECKS = f"{ROOT}temperature-checks/"
KINDS = pytest.mark.parametrize("kind", ["testers", "irrigators", "recorders", "thermometers"])
DEVICES = pytest.mark.parametrize("kind", ["irrigators", "recorders", "thermometers"])


def post(client, address, body):
    return client.post(address, body, format="json")


def faults_of(response):
    assert response.status_code == 422, response.content
    return {(one["pointer"], one["code"]) for one in response.json()["errors"]}


@KINDS
def test_what_was_added_can_be_read_where_location_says(scene, kind):
    client = scene.clients["coordinator"]

    made = post(client, f"{ROOT}{kind}/", {"code": "X-20"})
    read = client.get(made["Location"])

    assert made.status_code == 201
    assert read.json() == made.json()
    assert read.json()["code"] == "X-20"


@KINDS
def test_a_code_in_use_is_a_conflict(scene, kind):
    client = scene.clients["coordinator"]
    post(client, f"{ROOT}{kind}/", {"code": "X-20"})
    before = scene.snapshot()

    response = post(client, f"{ROOT}{kind}/", {"code": "X-20"})

    assert (response.status_code, response.json()["code"]) == (409, "code_in_use")
    assert scene.snapshot() == before


@KINDS
def test_another_clinic_may_use_the_same_code(scene, kind):
    post(scene.clients["coordinator"], f"{ROOT}{kind}/", {"code": "X-20"})

    response = post(scene.others["coordinator"], f"{ROOT}{kind}/", {"code": "X-20"})

    assert response.status_code == 201


@KINDS
def test_a_code_that_names_somebody_is_refused_and_not_echoed(scene, kind, caplog):
    caplog.set_level("DEBUG")
    before = scene.snapshot()

    response = post(scene.clients["coordinator"], f"{ROOT}{kind}/", {"code": "mary.smith"})

    assert faults_of(response) == {("/code", "looks_like_identifier")}
    assert b"smith" not in response.content
    assert "smith" not in caplog.text
    assert scene.snapshot() == before


@KINDS
def test_every_fault_of_an_entry_is_told_at_once(scene, kind):
    last = "active_to" if kind == "testers" else "retired_at"
    body = {"name_of_mary": "Mary", last: "02/03/2026"}

    response = post(scene.clients["coordinator"], f"{ROOT}{kind}/", body)

    assert faults_of(response) == {
        ("", "unknown_field"),
        (f"/{last}", "not_a_date"),
        ("/code", "required"),
    }
    assert b"ary" not in response.content


@KINDS
def test_a_code_is_never_changed(scene, kind):
    client = scene.clients["coordinator"]
    place = post(client, f"{ROOT}{kind}/", {"code": "X-20"})["Location"]

    response = client.patch(place, {"code": "X-21"}, format="json")

    assert faults_of(response) == {("/code", "not_changeable")}
    assert client.get(place).json()["code"] == "X-20"


@KINDS
def test_a_change_of_nothing_is_refused(scene, kind):
    client = scene.clients["coordinator"]
    place = post(client, f"{ROOT}{kind}/", {"code": "X-20"})["Location"]

    assert faults_of(client.patch(place, {}, format="json")) == {("", "nothing_to_change")}


def test_a_tester_may_end_and_be_taken_back(scene):
    client = scene.clients["coordinator"]
    place = post(client, f"{ROOT}testers/", {"code": "X-20", "active_from": "2026-01-01"})[
        "Location"
    ]

    ended = client.patch(place, {"active_to": "2026-02-01"}, format="json")
    back = client.patch(place, {"active_to": None}, format="json")

    assert ended.json()["active_to"] == "2026-02-01"
    assert back.json()["active_to"] is None
    assert back.json()["active_from"] == "2026-01-01"


@DEVICES
def test_a_label_used_again_is_a_new_device(scene, kind):
    client = scene.clients["coordinator"]
    old = post(client, f"{ROOT}{kind}/", {"code": "X-20"})
    client.patch(old["Location"], {"retired_at": "2026-02-01"}, format="json")

    new = post(client, f"{ROOT}{kind}/", {"code": "X-20", "in_service_from": "2026-02-02"})

    assert new.status_code == 201
    assert new.json()["id"] != old.json()["id"]
    assert client.get(old["Location"]).json()["retired_at"] == "2026-02-01"


@DEVICES
def test_a_retired_device_cannot_take_its_label_back_from_a_new_one(scene, kind):
    client = scene.clients["coordinator"]
    old = post(client, f"{ROOT}{kind}/", {"code": "X-20"})
    client.patch(old["Location"], {"retired_at": "2026-02-01"}, format="json")
    post(client, f"{ROOT}{kind}/", {"code": "X-20"})

    response = client.patch(old["Location"], {"retired_at": None}, format="json")

    assert (response.status_code, response.json()["code"]) == (409, "code_in_use")
    assert client.get(old["Location"]).json()["retired_at"] == "2026-02-01"


def test_a_check_is_judged_by_the_registry(scene):
    response = post(scene.clients["tester"], CHECKS, CHECK | {"reading_c": 44.5})

    body = response.json()
    assert response.status_code == 201
    assert body["check"]["within_tolerance"] is True
    assert body["check"]["tolerance_c"] == 0.5
    assert body["confirming_reading_needed"] is False
    assert body["irrigator_out_of_use_since"] is None


def test_the_sender_cannot_say_whether_it_is_within_tolerance(scene):
    response = post(scene.clients["tester"], CHECKS, CHECK | {"within_tolerance": True})

    assert faults_of(response) == {("", "unknown_field")}


def test_one_bad_reading_asks_for_a_second_and_two_put_the_irrigator_out_of_use(scene, ids):
    client = scene.clients["tester"]
    first = post(client, CHECKS, CHECK | {"reading_c": 45.0, "checked_at": "2026-03-03T08:00:00Z"})
    between = client.get(f"{ROOT}irrigators/{ids['irrigator']}/").json()
    second = post(client, CHECKS, CHECK | {"reading_c": 45.0, "checked_at": "2026-03-03T08:10:00Z"})
    after = client.get(f"{ROOT}irrigators/{ids['irrigator']}/").json()

    assert first.json()["confirming_reading_needed"] is True
    assert between["out_of_use_since"] is None
    assert second.json()["confirming_reading_needed"] is False
    assert second.json()["irrigator_out_of_use_since"] == "2026-03-03T08:10:00Z"
    assert after["out_of_use_since"] == "2026-03-03T08:10:00Z"
    assert after["out_of_use_because"] == "two readings in a row out of tolerance"


def test_the_same_reading_again_is_200_and_stored_once(scene):
    client = scene.clients["tester"]
    first = post(client, CHECKS, CHECK)
    before = scene.snapshot()

    again = post(client, CHECKS, CHECK)

    assert (again.status_code, again.json()) == (200, first.json())
    assert scene.snapshot() == before


def test_another_reading_of_the_same_moment_is_a_conflict(scene):
    client = scene.clients["tester"]
    post(client, CHECKS, CHECK)
    before = scene.snapshot()

    response = post(client, CHECKS, CHECK | {"reading_c": 43.9})

    assert (response.status_code, response.json()["code"]) == (409, "check_differs")
    assert scene.snapshot() == before


def test_a_visit_is_judged_anew_when_a_check_is_recorded_or_withdrawn(scene, sent_visit):
    visit = sent_visit()
    client = scene.clients["coordinator"]

    def codes():
        body = client.get(f"{ROOT}visits/{visit['id']}/").json()
        return {finding["code"] for finding in body["findings"]}

    before = codes()
    made = [
        post(client, CHECKS, CHECK | change).json()["check"]["id"]
        for change in ({}, {"stimulus": "cool", "set_temperature_c": 30, "reading_c": 30.1})
    ]
    checked = codes()
    for check in made:
        client.post(f"{CHECKS}{check}/withdraw/")

    assert "no_current_temperature_check" in before
    assert "no_current_temperature_check" not in checked
    assert codes() == before


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"irrigator": "IR-9"}, ("/irrigator", "unknown_irrigator")),
        ({"thermometer": "TH-9"}, ("/thermometer", "unknown_thermometer")),
        ({"checked_at": "2999-01-01T00:00:00Z"}, ("/checked_at", "date_in_future")),
        ({"stimulus": "ice"}, ("/stimulus", "not_in_list")),
        ({"set_temperature_c": 37}, ("/set_temperature_c", "temperature_contradicts_stimulus")),
        ({"set_temperature_c": 30}, ("/set_temperature_c", "temperature_contradicts_stimulus")),
        ({"reading_c": "44"}, ("/reading_c", "not_a_number")),
        ({"reading_c": 101}, ("/reading_c", "out_of_range")),
        ({"phase": "later"}, ("/phase", "not_in_list")),
        ({"irrigator": "mary.smith"}, ("/irrigator", "looks_like_identifier")),
    ],
)
def test_a_check_that_cannot_be_is_refused_with_its_place(scene, change, fault):
    before = scene.snapshot()

    response = post(scene.clients["tester"], CHECKS, CHECK | change)

    assert faults_of(response) == {fault}
    assert scene.snapshot() == before


def test_an_event_is_recorded_once(scene):
    client = scene.clients["coordinator"]
    address = f"{ROOT}equipment-events/"

    first, again = post(client, address, EVENT), post(client, address, EVENT)

    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert (first.json()["irrigator"], first.json()["recorder"]) == ("IR-2", None)
    assert len(client.get(address).json()["results"]) == 1


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"irrigator": None}, ("", "one_device_needed")),
        ({"recorder": "RC-1"}, ("", "one_device_needed")),
        ({"irrigator": "IR-9"}, ("/irrigator", "unknown_irrigator")),
        ({"kind": "dropped"}, ("/kind", "not_in_list")),
        ({"happened_at": "2999-01-01T00:00:00Z"}, ("/happened_at", "date_in_future")),
    ],
)
def test_an_event_that_cannot_be_is_refused_with_its_place(scene, change, fault):
    response = post(scene.clients["coordinator"], f"{ROOT}equipment-events/", EVENT | change)

    assert faults_of(response) == {fault}


def test_a_change_is_in_the_audit_with_its_request_and_without_its_values(scene):
    client = scene.clients["coordinator"]
    place = post(client, f"{ROOT}testers/", {"code": "X-20"})["Location"]

    response = client.patch(place, {"experience_band": "gt5y"}, format="json")

    with clinic_scope([scene.clinic.pk], by=TEST_ACTOR):
        event = AuditEvent.objects.get(action="tester.changed")
    assert event.detail == {"fields": ["experience_band"]}
    assert event.request_id == response["X-Request-Id"]
    assert event.object_id == place.split("/")[-2]


@pytest.mark.parametrize("kind", ["testers", "irrigators", "recorders", "thermometers"])
def test_an_id_nobody_gave_is_not_found(scene, kind):
    response = scene.clients["coordinator"].get(f"{ROOT}{kind}/{uuid.uuid4()}/")

    assert response.status_code == 404
