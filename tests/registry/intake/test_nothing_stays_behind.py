"""What was removed for good is in no other row, and not in the connection that brought it."""

from __future__ import annotations

import io
import json
import threading
import time

import pytest
from django.db import connection

from registry.access.scope import clinic_scope
from registry.intake.erase import subject_erase
from registry.intake.store import FEW_ROWS
from registry.intake.submit import VisitConflict, visit_amend, visit_submit, visit_withdraw
from registry.intake.uploads import upload_purge, upload_receive, upload_undo
from registry.models import AuditEvent, RowVersion, Subject, Visit
from tests.conftest import NOW, TEST_ACTOR
from tests.registry.intake.test_at_the_same_moment import together

pytestmark = pytest.mark.django_db
LETTERS = "BCDFGHJKMN"


@pytest.fixture
def clinic(make_clinic):
    clinic = make_clinic()
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        yield clinic


def receive(clinic, *visits):
    content = "\n".join(json.dumps(visit) for visit in visits).encode()
    upload, _ = upload_receive(clinic=clinic, stream=io.BytesIO(content), by=TEST_ACTOR, at=NOW)
    return upload


def give_another_subject(clinic, data):
    visit = Visit.objects.get(visit_ref=data["visit_ref"])
    visit_amend(
        clinic=clinic,
        visit_id=visit.id,
        data=data,
        reason="entry_error",
        expected_version=visit.version,
        by=TEST_ACTOR,
        at=NOW,
    )


def test_purging_a_file_removes_the_subject_code_that_an_amendment_replaced(clinic, visit_payload):
    upload = receive(clinic, visit_payload(subject_ref="S-WRONG"))
    give_another_subject(clinic, visit_payload(subject_ref="S-RIGHT"))

    upload_purge(clinic=clinic, upload_id=upload.id, by=TEST_ACTOR, at=NOW)

    assert list(Subject.objects.values_list("ref", flat=True)) == []
    assert RowVersion.objects.count() == 0


def test_erasing_a_subject_removes_the_code_it_was_first_entered_under(clinic, visit_payload):
    receive(clinic, visit_payload(subject_ref="S-WRONG"))
    give_another_subject(clinic, visit_payload(subject_ref="S-RIGHT"))

    subject_erase(clinic=clinic, subject_ref="S-RIGHT", by=TEST_ACTOR, at=NOW)

    assert list(Subject.objects.values_list("ref", flat=True)) == []
    assert RowVersion.objects.count() == 0


def test_a_subject_of_another_visit_stays_with_its_history(clinic, visit_payload):
    other = visit_payload(visit_ref="V-STAYS", subject_ref="S-WRONG")
    receive(clinic, other)
    give_another_subject(clinic, other | {"subject_ref": "S-THIRD"})
    upload = receive(clinic, visit_payload(subject_ref="S-WRONG"))
    kept = RowVersion.objects.count()

    upload_purge(clinic=clinic, upload_id=upload.id, by=TEST_ACTOR, at=NOW)

    assert set(Subject.objects.values_list("ref", flat=True)) == {"S-THIRD", "S-WRONG"}
    assert RowVersion.objects.count() == kept > 0


@pytest.mark.parametrize("beats", [False, True])
def test_an_erased_subject_keeps_no_old_version_under_another_subject(clinic, visit_payload, beats):
    data = visit_payload(subject_ref="S-LEAVE")
    if beats:
        data["irrigations"][0]["beats"] = {"time_s": [60.0, 61.0], "spv": [28.0, 28.5]}
    receive(clinic, data, visit_payload(visit_ref="V-OTHER", subject_ref="S-LEAVE"))
    give_another_subject(clinic, visit_payload(subject_ref="S-RIGHT"))

    subject_erase(clinic=clinic, subject_ref="S-LEAVE", by=TEST_ACTOR, at=NOW)

    assert list(Visit.objects.values_list("visit_ref", flat=True)) == ["V-KQMPX"]
    assert RowVersion.objects.count() == 0


@pytest.fixture
def erased(clinic, visit_payload):
    """The subject S-HTKQB with its visit V-KQMPX, erased."""
    receive(clinic, visit_payload())
    subject_erase(clinic=clinic, subject_ref="S-HTKQB", by=TEST_ACTOR, at=NOW)


def test_an_erased_visit_does_not_come_back_under_another_subject(clinic, erased, visit_payload):
    upload = receive(clinic, visit_payload(subject_ref="S-OTHER"))

    upload.refresh_from_db()
    assert (upload.visits_created, upload.visits_conflicting) == (0, 1)


def test_an_erased_subject_does_not_come_back_by_an_amendment(clinic, erased, visit_payload):
    receive(clinic, visit_payload(visit_ref="V-OTHER", subject_ref="S-OTHER"))

    with pytest.raises(VisitConflict, match="subject_erased"):
        give_another_subject(clinic, visit_payload(visit_ref="V-OTHER"))

    assert list(Subject.objects.values_list("ref", flat=True)) == ["S-OTHER"]


def test_an_erased_subject_stays_away_when_a_newer_key_signs(
    clinic, erased, visit_payload, settings
):
    settings.DIGEST_KEYS += f",9:{'n' * 32}"

    upload = receive(clinic, visit_payload(visit_ref="V-OTHER"))

    upload.refresh_from_db()
    assert upload.visits_conflicting == 1


DEEDS = {
    "visit.amended": lambda clinic, data: give_another_subject(
        clinic, data | {"subject_ref": "S-OTHER"}
    ),
    "visit.withdrawn": lambda clinic, data: visit_withdraw(
        clinic=clinic, visit_id=Visit.objects.get().id, by=TEST_ACTOR, at=NOW
    ),
    "subject.erased": lambda clinic, data: subject_erase(
        clinic=clinic, subject_ref=data["subject_ref"], by=TEST_ACTOR, at=NOW
    ),
    "upload.undone": lambda clinic, data: upload_undo(
        clinic=clinic, upload_id=Visit.objects.get().upload_id, by=TEST_ACTOR, at=NOW
    ),
    "upload.purged": lambda clinic, data: upload_purge(
        clinic=clinic, upload_id=Visit.objects.get().upload_id, by=TEST_ACTOR, at=NOW
    ),
}


@pytest.mark.parametrize("action", DEEDS)
def test_the_deed_leaves_an_audit_event_that_names_nobody(clinic, visit_payload, action):
    receive(clinic, visit_payload())

    DEEDS[action](clinic, visit_payload())

    event = AuditEvent.objects.get(action=action)
    assert (event.actor, event.at, event.clinic_id) == ("test", NOW, clinic.pk)
    assert "HTKQB" not in f"{event.object_id} {event.detail}"


@pytest.mark.django_db(transaction=True)
def test_a_connection_that_is_used_again_holds_no_staged_rows(make_clinic, visit_payload):
    clinic = make_clinic()
    refs = [f"V-{one}{other}{one}" for one in LETTERS for other in LETTERS]
    visits = [visit_payload(visit_ref=ref, subject_ref=ref) for ref in refs]
    assert len(visits) >= FEW_ROWS

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        receive(clinic, *visits)
        assert Visit.objects.count() == len(visits)

    with connection.cursor() as cursor:
        for table in ("stage_registry_visit", "stage_registry_subject"):
            cursor.execute(f"SELECT count(*) FROM {table}")
            assert cursor.fetchone() == (0,)


@pytest.mark.django_db(transaction=True)
def test_a_subject_that_comes_again_while_its_file_is_purged_stays(make_clinic, visit_payload):
    clinic = make_clinic()
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        upload = receive(clinic, visit_payload())
    stored, purging = threading.Event(), threading.Event()

    def come_again():
        data = visit_payload(visit_ref="V-AGAIN")
        visit_submit(clinic=clinic, data=data, by=TEST_ACTOR, at=NOW, via="api")
        stored.set()
        purging.wait(10)
        time.sleep(0.3)

    def purge():
        stored.wait(10)
        purging.set()
        upload_purge(clinic=clinic, upload_id=upload.id, by=TEST_ACTOR, at=NOW)

    answers = together(clinic, come_again, purge)

    assert answers == [None, None]
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        assert list(Visit.objects.values_list("visit_ref", flat=True)) == ["V-AGAIN"]
        assert list(Subject.objects.values_list("ref", flat=True)) == ["S-HTKQB"]
