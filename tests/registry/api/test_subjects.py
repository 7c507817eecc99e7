"""Codes made, and a subject erased for good."""

from __future__ import annotations

import pytest

from registry.access.scope import clinic_scope
from registry.intake.subject_codes import check_character_ok
from registry.models import RowVersion, Subject, Visit
from tests.conftest import TEST_ACTOR

pytestmark = pytest.mark.django_db
CODES = "/api/v1/subject-codes/"
ERASE = "/api/v1/subjects/erase/"


def test_codes_are_made_with_a_check_character_and_are_not_kept(scene):
    before = scene.snapshot()

    response = scene.clients["uploader"].post(CODES, {"count": 50}, format="json")

    codes = response.json()["codes"]
    assert response.status_code == 201
    assert len(set(codes)) == 50
    assert all(check_character_ok(code) and code.startswith("S-") for code in codes)
    assert scene.snapshot() == before


def test_codes_for_visits_are_told_apart(scene):
    response = scene.clients["uploader"].post(CODES, {"kind": "visit"}, format="json")

    assert [code[:2] for code in response.json()["codes"]] == ["V-"]


@pytest.mark.parametrize(
    ("body", "pointer", "code"),
    [
        ({"count": 0}, "/count", "out_of_range"),
        ({"count": 1001}, "/count", "out_of_range"),
        ({"count": True}, "/count", "not_a_number"),
        ({"kind": "person"}, "/kind", "not_in_list"),
        ({"name": "x"}, "", "unknown_field"),
        ([], "", "not_an_object"),
    ],
)
def test_a_wish_that_is_none_is_refused(scene, body, pointer, code):
    response = scene.clients["uploader"].post(CODES, body, format="json")

    assert response.status_code == 422
    assert [(one["pointer"], one["code"]) for one in response.json()["errors"]] == [(pointer, code)]


def test_an_erased_subject_is_in_no_store(scene, sent_visit):
    sent_visit()
    sent_visit(visit_ref="V-KQMPZ")

    response = scene.clients["coordinator"].post(ERASE, {"subject_ref": "S-HTKQB"}, format="json")

    assert (response.status_code, response.json()) == (200, {"visits_removed": 2})
    with clinic_scope([scene.clinic.pk], by=TEST_ACTOR):
        assert Visit.objects.count() == Subject.objects.count() == 0
        kept = [str(row.content) for row in RowVersion.objects.all()]
    assert not any("S-HTKQB" in content for content in kept)


def test_an_erased_subject_sent_again_is_not_taken(scene, sent_visit, visit_payload):
    sent_visit()
    client = scene.clients["coordinator"]
    client.post(ERASE, {"subject_ref": "S-HTKQB"}, format="json")

    response = client.post("/api/v1/visits/", visit_payload(visit_ref="V-OTHER"), format="json")

    assert (response.status_code, response.json()["code"]) == (409, "subject_erased")


def test_a_subject_nobody_knows_is_not_found(scene):
    response = scene.clients["coordinator"].post(ERASE, {"subject_ref": "S-NOBODY"}, format="json")

    assert response.status_code == 404
    assert b"NOBODY" not in response.content
