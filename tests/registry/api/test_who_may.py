"""Own clinic, other clinic, nobody; and every role: each against every operation."""

from __future__ import annotations

import re

import pytest

from registry.access.permissions import PERMISSIONS
from registry.access.roles import ROLES
from tests.registry.api.calls import CALLS, OPEN, addresses_of_urlconf

pytestmark = pytest.mark.django_db
EACH_CALL = pytest.mark.parametrize("call", CALLS, ids=lambda call: call.name)


def an_allowed_role(call):
    """One that may do it and belongs to a clinic."""
    return next(
        role
        for role in ("coordinator", "uploader", "tester", "site_lead")
        if role in PERMISSIONS[call.action]
    )


def test_every_operation_of_the_urlconf_is_called_here():
    called = {(re.sub(r"{\w+}", "<>", call.address), call.method) for call in CALLS}
    known = {
        (re.sub(r"<uuid:\w+>", "<>", address), method) for address, method in addresses_of_urlconf()
    }

    assert known - OPEN == called


@EACH_CALL
def test_a_member_of_the_clinic_may(call, scene, ids):
    response = call.send(scene.clients[an_allowed_role(call)], ids)

    assert response.status_code == call.success, response.content


@EACH_CALL
def test_nobody_may_and_leaves_no_trace(call, scene, ids):
    before = scene.snapshot()

    response = call.send(scene.nobody, ids)

    assert response.status_code == 401
    assert response["WWW-Authenticate"] == "Bearer"
    assert scene.snapshot() == before


@pytest.mark.parametrize(
    "call", [call for call in CALLS if call.object_of], ids=lambda call: call.name
)
def test_a_member_of_another_clinic_finds_nothing_and_leaves_no_trace(call, scene, ids):
    before = scene.snapshot()

    response = call.send(scene.others[an_allowed_role(call)], ids)

    assert response.status_code == 404
    assert response.json()["code"] == "not_found"
    assert scene.snapshot() == before


@pytest.mark.parametrize(
    "call",
    [call for call in CALLS if call.method == "GET" and not call.object_of],
    ids=lambda call: call.name,
)
def test_a_list_shows_a_member_of_another_clinic_nothing_of_this_one(call, scene, ids):
    own = {one["id"] for one in call.send(scene.clients["coordinator"], ids).json()["results"]}

    theirs = call.send(scene.others["coordinator"], ids).json()["results"]

    assert own
    assert own.isdisjoint(one["id"] for one in theirs)


def test_a_member_of_another_clinic_erases_nobody_here(scene, ids):
    before = scene.snapshot()

    response = scene.others["coordinator"].post(
        "/api/v1/subjects/erase/", {"subject_ref": "S-HTKQB"}, format="json"
    )

    assert response.status_code == 404
    assert scene.snapshot() == before


@EACH_CALL
@pytest.mark.parametrize("role", ROLES)
def test_each_role_may_what_the_table_says_and_nothing_else(call, role, scene, ids):
    before = scene.snapshot()

    response = call.send(scene.clients[role], ids)

    if role in PERMISSIONS[call.action]:
        assert response.status_code == call.success, response.content
    else:
        sees_it = call.object_of is None or role in PERMISSIONS[call.object_of]
        assert response.status_code == (403 if sees_it else 404)
        assert scene.snapshot() == before


@pytest.mark.parametrize("name", ["visit_amend", "visit_withdraw", "visit_versions"])
def test_a_lead_of_another_network_finds_no_visit_here(name, scene, ids):
    call = next(call for call in CALLS if call.name == name)

    response = call.send(scene.others["lead"], ids)

    assert response.status_code == 404


def test_only_a_coordinator_may_have_missing_codes_added(scene):
    from django.core.files.uploadedfile import SimpleUploadedFile

    before = scene.snapshot()

    response = scene.clients["uploader"].post(
        "/api/v1/uploads/", {"file": SimpleUploadedFile("v.csv", b"x"), "create_missing": "true"}
    )

    assert response.status_code == 403
    assert scene.snapshot() == before
