"""Own clinic, other clinic, nobody; and every role: each against every operation.

Each call runs in a savepoint that is rolled back, so that one scene serves them all.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction

from registry.access.permissions import PERMISSIONS
from registry.access.roles import ROLES
from tests.registry.api.calls import CALLS, OPEN, addresses_of_urlconf, an_allowed_role, shape_of

pytestmark = pytest.mark.django_db
STORES_NOTHING = {"indices_compute", "subject_codes_mint"}


@contextmanager
def taken_back() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def test_every_operation_of_the_urlconf_is_called_here():
    called = {(shape_of(call.address), call.method) for call in CALLS}
    known = {(shape_of(address), method) for address, method in addresses_of_urlconf()}

    assert known - OPEN == called


def test_a_member_of_the_clinic_may(scene, ids):
    answers = {}
    for call in CALLS:
        with taken_back():
            before = scene.snapshot()
            response = call.send(scene.clients[an_allowed_role(call)], ids)
            answers[call.name] = (response.status_code, scene.snapshot() != before)

    assert answers == {
        call.name: (call.success, call.method != "GET" and call.name not in STORES_NOTHING)
        for call in CALLS
    }


def test_nobody_may_and_leaves_no_trace(scene, ids):
    before = scene.snapshot()

    responses = {call.name: call.send(scene.nobody, ids) for call in CALLS}

    assert {name: one.status_code for name, one in responses.items()} == {
        call.name: 401 for call in CALLS
    }
    assert {one["WWW-Authenticate"] for one in responses.values()} == {"Bearer"}
    assert scene.snapshot() == before


def test_a_member_of_another_clinic_finds_nothing_and_leaves_no_trace(scene, ids):
    calls = [call for call in CALLS if call.object_of]
    before = scene.snapshot()

    answers = {
        call.name: call.send(scene.others[an_allowed_role(call)], ids).status_code for call in calls
    }

    assert answers == {call.name: 404 for call in calls}
    assert scene.snapshot() == before


@pytest.mark.parametrize(
    "call",
    [call for call in CALLS if call.method == "GET" and not (call.object_of or call.is_shared)],
    ids=lambda call: call.name,
)
def test_a_list_shows_a_member_of_another_clinic_nothing_of_this_one(call, scene, ids):
    role = an_allowed_role(call)
    own = {one["id"] for one in call.send(scene.clients[role], ids).json()["results"]}

    theirs = call.send(scene.others[role], ids).json()["results"]

    assert own
    assert own.isdisjoint(one["id"] for one in theirs)


def test_a_member_of_another_clinic_erases_nobody_here(scene, ids):
    before = scene.snapshot()

    response = scene.others["coordinator"].post(
        "/api/v1/subjects/erase/", {"subject_ref": "S-HTKQB"}, format="json"
    )

    assert response.status_code == 404
    assert scene.snapshot() == before


@pytest.mark.parametrize("role", ROLES)
def test_each_role_may_what_the_table_says_and_nothing_else(role, scene, ids):
    answers, expected, traces = {}, {}, {}
    before = scene.snapshot()
    for call in CALLS:
        with taken_back():
            answers[call.name] = call.send(scene.clients[role], ids).status_code
            allowed = role in PERMISSIONS[call.action]
            traces[call.name] = not allowed and scene.snapshot() != before
        sees_it = call.object_of is None or role in PERMISSIONS[call.object_of]
        expected[call.name] = call.success if allowed else 403 if sees_it else 404

    assert answers == expected
    assert not any(traces.values())


@pytest.mark.parametrize("name", ["visit_amend", "visit_withdraw", "visit_versions"])
def test_a_lead_of_another_network_finds_no_visit_here(name, scene, ids):
    call = next(call for call in CALLS if call.name == name)

    response = call.send(scene.others["lead"], ids)

    assert response.status_code == 404


@pytest.mark.parametrize("name", ["visit_get", "visit_withdraw", "visit_versions"])
def test_a_visit_of_another_tester_is_not_found_by_a_tester(name, scene, ids, sent_visit):
    call = next(call for call in CALLS if call.name == name)
    others = sent_visit(visit_ref="V-KQMPZ", tester="T-08")["id"]

    response = call.send(scene.clients["tester"], ids | {"visit": others})

    assert response.status_code == 404


def test_only_a_coordinator_may_have_missing_codes_added(scene):
    before = scene.snapshot()

    response = scene.clients["uploader"].post(
        "/api/v1/uploads/", {"file": SimpleUploadedFile("v.csv", b"x"), "create_missing": "true"}
    )

    assert response.status_code == 403
    assert scene.snapshot() == before
