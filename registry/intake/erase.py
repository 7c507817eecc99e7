"""A person taken out of every store: visits, beats, results, and every version there was."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from registry.access import audit
from registry.access.digests import keyed_digest, signing_key
from registry.access.scope import Actor
from registry.intake.changed import note_stored_changed
from registry.intake.one_at_a_time import erasing_alone
from registry.intake.remove import remove_visit_rows
from registry.intake.stored import stored_visits
from registry.intake.tombstones import tombstone_purpose
from registry.models import (
    Clinic,
    RowVersion,
    Subject,
    Tombstone,
    Visit,
)


class SubjectNotFound(Exception):
    """The clinic has no subject with this reference."""


@transaction.atomic
def subject_erase(*, clinic: Clinic, subject_ref: str, by: Actor, at: datetime) -> int:
    """Erase a subject and all visits for good, and return how many visits there were.

    What stays is a keyed digest of each reference, so that a file sent again cannot bring the
    person back, and an audit event that names nobody.

    :raises SubjectNotFound: if the clinic has no such subject.
    """
    erasing_alone(clinic.pk)
    subject = (
        Subject.objects.select_for_update()
        .filter(clinic=clinic, ref=subject_ref)
        .order_by("id")
        .first()
    )
    if subject is None:
        raise SubjectNotFound
    visits = Visit.objects.filter(clinic_id=clinic.pk, subject_id=subject.id).order_by("id")
    # Locked first, as a recomputation does: in another order the two would wait for each other.
    rows = list(visits.select_for_update())
    note_stored_changed(stored_visits(rows), clinic_id=clinic.pk, at=at)
    _remove_rows(clinic, subject, rows)
    for kind, ref in [("subject", subject_ref), *(("visit", row.visit_ref) for row in rows)]:
        _leave_tombstone(clinic, kind, ref, at)
    audit.record(
        "subject.erased",
        by=by,
        at=at,
        clinic_id=clinic.pk,
        object_kind="subject",
        object_id=subject.id,
        detail={"visits": len(rows)},
    )
    return len(rows)


def _remove_rows(clinic: Clinic, subject: Subject, rows: list[Visit]) -> None:
    # Visits that once were this subject's and were amended to another's stay as they are now,
    # but their old versions go.
    history = RowVersion.objects.filter(clinic_id=clinic.pk)
    once_theirs = history.filter(subject_id=subject.id).exclude(visit_id=None)
    once_theirs_ids = list(once_theirs.values_list("visit_id", flat=True))
    remove_visit_rows(clinic.pk, rows)
    Subject.objects.filter(clinic=clinic, id=subject.id).delete()
    history.filter(visit_id__in=once_theirs_ids).delete()
    history.filter(subject_id=subject.id).delete()


def _leave_tombstone(clinic: Clinic, kind: str, ref: str, at: datetime) -> None:
    number, key = signing_key()
    Tombstone.objects.get_or_create(
        clinic=clinic,
        digest=keyed_digest(tombstone_purpose(kind, clinic.pk), ref, key=key),
        defaults={"kind": kind, "key_number": number, "erased_at": at},
    )
