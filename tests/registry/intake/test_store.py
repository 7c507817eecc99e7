"""Rows into tables: few and many end the same, and the row security holds for both."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, ProgrammingError, transaction

from registry.access.scope import clinic_scope
from registry.intake.store import FEW_ROWS, insert_rows
from registry.models import ChangedKey, Subject
from registry.models.fields import new_id
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db

BOTH_WAYS = pytest.mark.parametrize("count", [FEW_ROWS - 1, FEW_ROWS + 1])


def subjects(clinic_id, count):
    return [
        {"clinic_id": clinic_id, "id": new_id(), "ref": f"S-{number:04d}", "created_at": NOW}
        for number in range(count)
    ]


@BOTH_WAYS
def test_only_the_rows_that_were_not_there_come_back(make_clinic, count):
    clinic = make_clinic()
    rows = subjects(clinic.pk, count)
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        insert_rows(Subject, rows[:5], returning="id")

        added = insert_rows(Subject, subjects(clinic.pk, count), returning="id")

        assert len(added) == count - 5
        assert Subject.objects.count() == count


@BOTH_WAYS
def test_a_row_of_another_clinic_is_refused_by_the_database(make_clinic, count):
    clinic, other = make_clinic("CL-A"), make_clinic("CL-B")

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        with pytest.raises(ProgrammingError, match="row-level security"), transaction.atomic():
            insert_rows(Subject, subjects(other.pk, count), returning="id")
        assert Subject.objects.count() == 0


@BOTH_WAYS
def test_without_returning_a_row_that_is_there_is_an_error(make_clinic, count):
    clinic = make_clinic()
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        insert_rows(Subject, subjects(clinic.pk, 1))

        with pytest.raises(IntegrityError, match="subject_ref_once"), transaction.atomic():
            insert_rows(Subject, subjects(clinic.pk, count))


@BOTH_WAYS
def test_ids_that_the_database_makes_are_made_either_way(make_clinic, count):
    clinic = make_clinic()
    row = {
        "clinic_id": clinic.pk,
        "subject_of_change": "tester",
        "key_id": new_id(),
        "month": NOW.date(),
        "changed_at": NOW,
    }
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        insert_rows(ChangedKey, [row] * count)

        assert ChangedKey.objects.values("id").distinct().count() == count
