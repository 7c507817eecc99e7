"""Two senders at the same moment, on real threads and real transactions: one row, no error."""

from __future__ import annotations

import io
import json
import threading
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection

from registry.access.scope import clinic_scope
from registry.intake import uploads
from registry.intake.erase import subject_erase
from registry.intake.submit import VisitConflict, visit_amend, visit_submit
from registry.intake.uploads import upload_receive
from registry.models import Clinic, Subject, Upload, Visit
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db(transaction=True)


def together(clinic: Clinic, *works: Callable[[], Any]) -> list[Any]:
    """What each work gave or raised, all begun at once, each in a scope of its own."""
    start, answers = threading.Barrier(len(works)), [None] * len(works)

    def run(place: int, work: Callable[[], Any]) -> None:
        try:
            start.wait()
            with clinic_scope([clinic.pk], by=TEST_ACTOR):
                answers[place] = work()
        except Exception as error:
            answers[place] = error
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(place, work)) for place, work in enumerate(works)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return answers


def in_clinic(clinic: Clinic, count: Callable[[], int]) -> int:
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        return count()


def sender(clinic: Clinic, data: dict[str, Any]) -> Callable[[], Any]:
    return lambda: visit_submit(clinic=clinic, data=data, by=TEST_ACTOR, at=NOW, via="api")


def test_one_visit_sent_four_times_at_once_is_created_once(make_clinic, visit_payload):
    clinic = make_clinic()

    answers = together(clinic, *[sender(clinic, visit_payload())] * 4)

    assert sorted(one.created for one in answers) == [False, False, False, True]
    assert len({one.visit_id for one in answers}) == 1
    assert in_clinic(clinic, Visit.objects.count) == 1


def test_two_visits_of_one_reference_and_other_content_give_one_and_a_conflict(
    make_clinic, visit_payload
):
    clinic = make_clinic()

    answers = together(
        clinic, sender(clinic, visit_payload()), sender(clinic, visit_payload(age_years=20))
    )

    conflicts = [one for one in answers if isinstance(one, VisitConflict)]
    assert [one.code for one in conflicts] == ["visit_changed"]
    assert in_clinic(clinic, Visit.objects.count) == 1


def test_two_new_visits_of_one_new_subject_share_it(make_clinic, visit_payload):
    clinic = make_clinic()

    answers = together(
        clinic, *[sender(clinic, visit_payload(visit_ref=ref)) for ref in ("V-FRST", "V-SCND")]
    )

    assert [one.created for one in answers] == [True, True]
    assert in_clinic(clinic, Subject.objects.count) == 1


def test_one_file_sent_twice_at_once_is_one_upload(make_clinic, visit_payload):
    clinic = make_clinic()
    refs = [f"V-{first}{second}{first}" for first in "BCDFGHJKLM" for second in "BCDFGHJKLM"]
    content = "\n".join(json.dumps(visit_payload(visit_ref=ref)) for ref in refs).encode()

    def receive():
        return upload_receive(clinic=clinic, stream=io.BytesIO(content), by=TEST_ACTOR, at=NOW)

    answers = together(clinic, receive, receive)

    assert sorted(new for _, new in answers) == [False, True]
    assert len({upload.id for upload, _ in answers}) == 1
    assert in_clinic(clinic, Upload.objects.count) == 1
    assert in_clinic(clinic, Visit.objects.count) == len(refs)


def test_two_amendments_of_one_version_give_one_and_a_mismatch(make_clinic, visit_payload):
    clinic = make_clinic()
    visit_id = together(clinic, sender(clinic, visit_payload()))[0].visit_id

    def amend(age):
        return lambda: visit_amend(
            clinic=clinic,
            visit_id=visit_id,
            data=visit_payload(age_years=age),
            reason="entry_error",
            expected_version=1,
            by=TEST_ACTOR,
            at=NOW,
        )

    answers = together(clinic, amend(55), amend(56))

    assert sorted(str(one) for one in answers) == ["2", "2"]
    assert sum(isinstance(one, Exception) for one in answers) == 1


def test_two_files_with_the_same_visits_in_opposite_order_both_end(
    make_clinic, visit_payload, settings, monkeypatch
):
    """Each has stored its first visit before it comes to the other's: a deadlock, if once."""
    settings.INTAKE_CHUNK_VISITS = 1
    clinic = make_clinic()
    # The first visit of all stores the default criteria set; that would let one file in alone.
    together(clinic, sender(clinic, visit_payload()))
    visits = [
        visit_payload(visit_ref=f"V-{letter}RST", subject_ref=f"S-{letter}RST") for letter in "BCD"
    ]
    both_began, first_time, real = threading.Barrier(2), threading.local(), uploads._load_chunk

    def load_chunk(*given):
        real(*given)
        if not hasattr(first_time, "over"):
            first_time.over = True
            both_began.wait(timeout=10)

    monkeypatch.setattr(uploads, "_load_chunk", load_chunk)

    def receive(order):
        content = "\n".join(json.dumps(one) for one in order).encode()
        return lambda: upload_receive(
            clinic=clinic, stream=io.BytesIO(content), by=TEST_ACTOR, at=NOW
        )

    answers = together(clinic, receive(visits), receive(visits[::-1]))

    counts = [(one.visits_created, one.visits_unchanged) for one, _ in answers]
    assert sorted(counts) == [(0, 3), (3, 0)]
    assert in_clinic(clinic, Visit.objects.count) == 4


def test_a_person_erased_while_more_of_them_arrives_is_gone_and_stays_gone(
    make_clinic, visit_payload
):
    clinic = make_clinic()
    together(clinic, sender(clinic, visit_payload()))

    def erase():
        return subject_erase(clinic=clinic, subject_ref="S-HTKQB", by=TEST_ACTOR, at=NOW)

    more = [sender(clinic, visit_payload(visit_ref=f"V-{letter}RST")) for letter in "BCD"]
    answers = together(clinic, *more, erase)

    refused = [one for one in answers if isinstance(one, VisitConflict)]
    assert {one.code for one in refused} <= {"subject_erased"}
    assert len(refused) + answers[-1] == 4  # its first visit, and each of the three once
    assert in_clinic(clinic, Visit.objects.count) == in_clinic(clinic, Subject.objects.count) == 0
