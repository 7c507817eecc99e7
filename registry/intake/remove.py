"""Whole files of visits withdrawn or removed, in bulk."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.db.models import F, QuerySet

from registry.access.scope import Actor
from registry.intake.changed import note_stored_changed
from registry.intake.stored import stored_visits
from registry.models import (
    Clinic,
    Irrigation,
    ResponseBeats,
    RowVersion,
    Subject,
    Visit,
    VisitResult,
)


def visits_withdraw(*, clinic: Clinic, upload_id: UUID, by: Actor, at: datetime) -> int:
    """Withdraw the visits of an upload that are not withdrawn yet; how many there were."""
    rows = list(_of_upload(clinic, upload_id).filter(withdrawn_at=None))
    _note(clinic, rows, at)
    return (
        _of_upload(clinic, upload_id)
        .filter(withdrawn_at=None)
        .update(withdrawn_at=at, withdrawn_by=by.name, version=F("version") + 1)
    )


def visits_remove(*, clinic: Clinic, upload_id: UUID, at: datetime) -> int:
    """Delete the visits of an upload with all their history; how many there were."""
    # Locked first, as a recomputation does: in another order the two would wait for each other.
    rows = list(_of_upload(clinic, upload_id).select_for_update())
    _note(clinic, rows, at)
    remove_visit_rows(clinic.pk, rows)
    return len(rows)


def remove_visit_rows(clinic_id: int, rows: Sequence[Visit]) -> None:
    """Delete visits, what hangs on them, their history, and subjects that nothing else names."""
    visit_ids = [row.id for row in rows]
    subject_ids = {row.subject_id for row in rows} | _subjects_once(clinic_id, visit_ids)
    for model in (ResponseBeats, VisitResult, Irrigation):
        model._default_manager.filter(clinic_id=clinic_id, visit_id__in=visit_ids).delete()
    Visit.objects.filter(clinic_id=clinic_id, id__in=visit_ids).delete()
    # Last, since the triggers wrote down what was just deleted.
    RowVersion.objects.filter(clinic_id=clinic_id, visit_id__in=visit_ids).delete()
    _remove_orphans(clinic_id, subject_ids)


def _subjects_once(clinic_id: int, visit_ids: Sequence[UUID]) -> set[UUID]:
    """Whose these visits were before an amendment: that code was sent for them as well."""
    history = RowVersion.objects.filter(clinic_id=clinic_id, visit_id__in=visit_ids)
    return {one for one in history.values_list("subject_id", flat=True) if one is not None}


def _remove_orphans(clinic_id: int, subject_ids: set[UUID]) -> None:
    history = RowVersion.objects.filter(clinic_id=clinic_id, subject_id__in=subject_ids)
    named = set(history.exclude(visit_id=None).values_list("subject_id", flat=True))
    orphans = Subject.objects.filter(
        clinic_id=clinic_id, id__in=subject_ids - named, visits__isnull=True
    )
    orphan_ids = list(orphans.values_list("id", flat=True))
    Subject.objects.filter(clinic_id=clinic_id, id__in=orphan_ids).delete()
    # After that, since the trigger wrote down what was just deleted.
    history.filter(subject_id__in=orphan_ids).delete()


def _of_upload(clinic: Clinic, upload_id: UUID) -> QuerySet[Visit]:
    return Visit.objects.filter(clinic_id=clinic.pk, upload_id=upload_id).order_by("id")


def _note(clinic: Clinic, rows: list[Visit], at: datetime) -> None:
    note_stored_changed(stored_visits(rows), clinic_id=clinic.pk, at=at)
