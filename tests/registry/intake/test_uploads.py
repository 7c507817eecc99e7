"""Files taken in: counted, reported, once; undone; purged."""

from __future__ import annotations

import io
import json

import pytest
from django.db import connection

from registry.access.scope import clinic_scope
from registry.intake.readers import FileRefused
from registry.intake.uploads import upload_purge, upload_receive, upload_undo
from registry.models import (
    ChangedKey,
    Irrigation,
    RowVersion,
    Subject,
    Tester,
    Upload,
    UploadProblem,
    Visit,
    VisitResult,
)
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db


@pytest.fixture
def clinic(make_clinic):
    clinic = make_clinic()
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        yield clinic


LETTERS = "BCDFGHJKLMNPQRSTVWXZ"


def reference(number: int) -> str:
    return "V-" + "".join(LETTERS[(number // 20**place) % 20] for place in range(6))


def lines(*visits) -> bytes:
    return "\n".join(json.dumps(visit) for visit in visits).encode()


def receive(clinic, content: bytes, **options):
    return upload_receive(
        clinic=clinic, stream=io.BytesIO(content), by=TEST_ACTOR, at=NOW, **options
    )


def counts(upload):
    upload.refresh_from_db()
    return (
        upload.visits_created,
        upload.visits_unchanged,
        upload.visits_conflicting,
        upload.visits_refused,
    )


def test_a_file_larger_than_a_chunk_is_loaded_whole(clinic, visit_payload, settings):
    settings.INTAKE_CHUNK_VISITS = 60
    content = lines(*(visit_payload(visit_ref=reference(number)) for number in range(150)))

    upload, new = receive(clinic, content)

    assert (new, upload.state) == (True, "finished")
    assert counts(upload) == (150, 0, 0, 0)
    assert VisitResult.objects.count() == 150
    assert Irrigation.objects.count() == 600
    assert Subject.objects.count() == 1


def test_the_good_rows_are_kept_and_each_bad_one_is_told_with_its_place(clinic, visit_payload):
    bad = visit_payload(visit_ref=reference(2), age_years=200, tester="T-99")
    content = lines(visit_payload(visit_ref=reference(1)), bad)

    upload, _ = receive(clinic, content)

    assert counts(upload) == (1, 0, 0, 1)
    problems = set(UploadProblem.objects.values_list("row", "column", "code"))
    assert problems == {(2, "/age_years", "out_of_range"), (2, "/tester", "unknown_tester")}


def test_all_or_nothing_keeps_nothing_but_the_report(clinic, visit_payload):
    content = lines(
        visit_payload(visit_ref=reference(1)), visit_payload(visit_ref=reference(2), age_years=200)
    )

    upload, _ = receive(clinic, content, policy="all_or_nothing")

    assert upload.state == "refused"
    assert counts(upload) == (0, 0, 0, 2)
    assert UploadProblem.objects.count() == 1
    assert Visit.objects.count() == Subject.objects.count() == ChangedKey.objects.count() == 0


def test_the_same_file_again_is_the_first_upload(clinic, visit_payload):
    first, _ = receive(clinic, lines(visit_payload()))

    again, new = receive(clinic, lines(visit_payload()))

    assert (again.id, new) == (first.id, False)
    assert Upload.objects.count() == 1


def test_the_same_visits_in_another_file_are_unchanged(clinic, visit_payload):
    receive(clinic, lines(visit_payload()))

    upload, new = receive(clinic, lines(visit_payload(), visit_payload(visit_ref=reference(7))))

    assert new
    assert counts(upload) == (1, 1, 0, 0)


def test_the_same_reference_twice_in_one_file(clinic, visit_payload):
    content = lines(visit_payload(), visit_payload(), visit_payload(age_years=70))

    upload, _ = receive(clinic, content)

    assert counts(upload) == (1, 1, 1, 0)
    assert list(UploadProblem.objects.values_list("row", "code")) == [(3, "visit_changed")]


def test_a_file_that_is_refused_as_a_whole_leaves_no_trace(clinic):
    with pytest.raises(FileRefused, match="unknown_column"):
        receive(clinic, b"visit_ref,patient_name\nV-KQMPX,someone\n")

    assert Upload.objects.count() == UploadProblem.objects.count() == 0


def test_a_file_refused_half_way_leaves_no_trace(clinic, settings):
    settings.INTAKE_CHUNK_VISITS = 1
    header = "visit_ref,subject_ref,visit_date,age_years,tester,irrigator,medium,ear,stimulus,"
    header += "set_temperature_c,peak_spv"
    good = "V-KQMPX,S-HTKQB,2026-03-02,54,T-07,IR-2,water_open,right,warm,44,31.2"
    content = f"{header}\n{good}\n".encode() + good.replace("KQMPX", "\xe9").encode("latin-1")

    with pytest.raises(FileRefused) as refused:
        receive(clinic, content)

    assert refused.value.code == "not_utf8"
    assert Visit.objects.count() == Upload.objects.count() == 0


def test_codes_nobody_knows_are_added_only_when_asked_for(clinic, visit_payload):
    content = lines(visit_payload(tester="T-55", recorder="RC-9"))

    without, _ = receive(clinic, content)
    with_codes, new = receive(clinic, content, create_missing=True)

    assert counts(without) == (0, 0, 0, 1)
    assert new
    assert counts(with_codes) == (1, 0, 0, 0)
    assert Tester.objects.filter(code="T-55").count() == 1


def test_undoing_withdraws_its_visits_and_the_file_may_come_again(clinic, visit_payload):
    upload, _ = receive(clinic, lines(visit_payload()))

    withdrawn = upload_undo(clinic=clinic, upload_id=upload.id, by=TEST_ACTOR, at=NOW)
    again, new = receive(clinic, lines(visit_payload()))

    assert withdrawn == 1
    assert Visit.objects.get().withdrawn_at == NOW
    assert new
    assert counts(again) == (0, 0, 1, 0)
    assert UploadProblem.objects.get().code == "visit_withdrawn"


def test_purging_removes_all_trace_of_a_file(clinic, visit_payload):
    receive(clinic, lines(visit_payload(visit_ref=reference(3), subject_ref="S-STAYS")))
    upload, _ = receive(clinic, lines(visit_payload(), visit_payload(visit_ref="looks like me")))
    upload.refresh_from_db()
    assert upload.identifiers_found

    upload_purge(clinic=clinic, upload_id=upload.id, by=TEST_ACTOR, at=NOW)

    assert list(Visit.objects.values_list("visit_ref", flat=True)) == [reference(3)]
    assert list(Subject.objects.values_list("ref", flat=True)) == ["S-STAYS"]
    assert UploadProblem.objects.count() == RowVersion.objects.count() == 0
    assert Upload.objects.count() == 1


def test_a_first_large_file_does_not_read_the_stored_visits_for_each_new_one(
    clinic, visit_payload, settings
):
    """A plan made while the tables were empty would read 500,000 rows and more here (measured)."""
    settings.INTAKE_CHUNK_VISITS = 100
    visits = [visit_payload(visit_ref=reference(number)) for number in range(1000)]

    receive(clinic, lines(*visits))

    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT sum(pg_stat_get_xact_tuples_returned(indexrelid)) FROM pg_index"
            " WHERE indrelid = 'registry_visit'::regclass"
        )
        rows_read = cursor.fetchone()[0]
    assert Visit.objects.count() == 1000
    assert rows_read < 100_000
