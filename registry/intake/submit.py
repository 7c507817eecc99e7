"""One visit by form or API: sent, amended, withdrawn."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction

from registry.access import audit
from registry.access.scope import Actor
from registry.caloric.compute import compute_visits
from registry.caloric.visit import Visit
from registry.caloric.vocabulary import AMENDMENT_REASONS
from registry.intake.changed import note_changed, note_stored_changed
from registry.intake.checks import Fault, check_visit, content_digest
from registry.intake.context import ClinicContext, check_agreement, clinic_context
from registry.intake.load import (
    Arrival,
    child_rows,
    codes_on,
    subject_ids,
    visits_load,
    whole_visit_row,
)
from registry.intake.one_at_a_time import again_after_deadlock, loading_beside_others
from registry.intake.rows import as_compared, as_kept
from registry.intake.store import insert_rows
from registry.intake.stored import stored_visits
from registry.intake.tombstones import refs_erased
from registry.models import Clinic, Irrigation, ResponseBeats, VisitResult
from registry.models import Visit as VisitRow


class VisitRefused(Exception):
    """The visit cannot be taken; ``faults`` holds everything that is wrong with it."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = faults
        super().__init__(f"{len(faults)} faults")


class VisitConflict(Exception):
    """The reference is taken: ``code`` says by what, ``visit_id`` by which stored visit."""

    def __init__(self, code: str, visit_id: UUID | None = None) -> None:
        self.code = code
        self.visit_id = visit_id
        super().__init__(code)


class VisitNotFound(Exception):
    """There is no such visit at this clinic."""


class VersionMismatch(Exception):
    """Somebody changed the visit since it was read; ``current`` is its version now."""

    def __init__(self, current: int) -> None:
        self.current = current
        super().__init__(str(current))


@dataclass(frozen=True, slots=True)
class Submitted:
    visit_id: UUID
    created: bool


def visit_submit(*, clinic: Clinic, data: object, by: Actor, at: datetime, via: str) -> Submitted:
    """Store one visit, or find that it is stored already with the same content.

    :raises NoAgreement: if the network has no agreement in force.
    :raises VisitRefused: with every fault at once; nothing is stored.
    :raises VisitConflict: if the reference is taken by other content, was withdrawn or erased.
    """
    return again_after_deadlock(lambda: _submit(clinic, data, by, at, via))


@transaction.atomic
def _submit(clinic: Clinic, data: object, by: Actor, at: datetime, via: str) -> Submitted:
    context = _context(clinic, at)
    visit = _checked(data, context, at)
    outcome = visits_load([visit], context=context, arrival=Arrival(by=by, at=at, via=via))[0]
    if outcome.visit_id is None or outcome.status not in ("created", "unchanged"):
        raise VisitConflict(outcome.status, outcome.visit_id)
    created = outcome.status == "created"
    if created:
        _record("visit.created", outcome.visit_id, clinic=clinic, by=by, at=at)
    return Submitted(outcome.visit_id, created)


@transaction.atomic
def visit_amend(
    *,
    clinic: Clinic,
    visit_id: UUID,
    data: object,
    reason: str,
    expected_version: int,
    by: Actor,
    at: datetime,
) -> int:
    """Replace a visit by a corrected one and return its new version; the old one is kept.

    :raises VisitNotFound: if the clinic has no such visit.
    :raises VersionMismatch: if it is no longer the version that was read.
    :raises VisitRefused: with every fault at once, a changed ``visit_ref`` among them.
    :raises VisitConflict: if the visit was withdrawn, or its new subject was erased.
    """
    context = _context(clinic, at)
    loading_beside_others(clinic.pk)
    row = _locked(clinic, visit_id)
    if row.version != expected_version:
        raise VersionMismatch(row.version)
    if row.withdrawn_at is not None:
        raise VisitConflict("visit_withdrawn", visit_id)
    visit = as_kept(_checked(data, context, at, _amendment_faults(data, reason, row)))
    gone = refs_erased(clinic.pk, [visit]).get(visit.visit_ref)
    if gone is not None:
        raise VisitConflict(gone, visit_id)
    note_stored_changed(stored_visits([row]), clinic_id=clinic.pk, at=at)
    _replace(row, visit, reason, context=context, at=at)
    note_changed([visit], context=context, at=at)
    _record("visit.amended", visit_id, clinic=clinic, by=by, at=at, reason=reason)
    return row.version + 1


@transaction.atomic
def visit_withdraw(*, clinic: Clinic, visit_id: UUID, by: Actor, at: datetime) -> None:
    """Take a visit out of every statistic and release; done again, it changes nothing.

    :raises VisitNotFound: if the clinic has no such visit.
    """
    row = _locked(clinic, visit_id)
    if row.withdrawn_at is not None:
        return
    VisitRow.objects.filter(clinic_id=clinic.pk, id=visit_id).update(
        withdrawn_at=at, withdrawn_by=by.name, version=row.version + 1
    )
    note_stored_changed(stored_visits([row]), clinic_id=clinic.pk, at=at)
    _record("visit.withdrawn", visit_id, clinic=clinic, by=by, at=at)


def _context(clinic: Clinic, at: datetime) -> ClinicContext:
    check_agreement(clinic, on=clinic.local_date(at))
    return clinic_context(clinic, at=at)


def _checked(
    data: object, context: ClinicContext, at: datetime, more: list[Fault] | None = None
) -> Visit:
    visit, faults = check_visit(
        data,
        directory=context.directory,
        today=context.clinic.local_date(at),
        defaults=context.visit_defaults,
    )
    faults = [*faults, *(more or [])]
    if visit is None or faults:
        raise VisitRefused(faults)
    return visit


def _amendment_faults(data: object, reason: str, row: VisitRow) -> list[Fault]:
    faults = []
    if reason not in AMENDMENT_REASONS:
        faults.append(Fault("/amendment_reason", "not_in_list"))
    if isinstance(data, dict) and data.get("visit_ref", row.visit_ref) != row.visit_ref:
        faults.append(Fault("/visit_ref", "visit_ref_changed"))
    return faults


def _locked(clinic: Clinic, visit_id: UUID) -> VisitRow:
    row = (
        VisitRow.objects.select_for_update()
        .filter(clinic_id=clinic.pk, id=visit_id)
        .order_by("id")
        .first()
    )
    if row is None:
        raise VisitNotFound
    return row


def _replace(
    row: VisitRow, visit: Visit, reason: str, *, context: ClinicContext, at: datetime
) -> None:
    """Update the visit's row and put new rows under it; triggers keep the old ones."""
    computed = compute_visits([context.job(visit)])[0]
    subjects = subject_ids([visit], context=context, at=at)
    codes = codes_on(visit, subjects=subjects, context=context)
    digest = content_digest(as_compared(visit))
    key = {"clinic_id": row.clinic_id, "visit_id": row.id}
    for model in (ResponseBeats, VisitResult, Irrigation):
        model._default_manager.filter(**key).delete()
    VisitRow.objects.filter(clinic_id=row.clinic_id, id=row.id).update(
        **whole_visit_row(visit, computed, codes, digest),
        version=row.version + 1,
        amendment_reason=reason,
    )
    for model, rows in child_rows(row.id, visit, computed, codes, context=context, at=at).items():
        insert_rows(model, rows)


def _record(
    action: str, visit_id: UUID, *, clinic: Clinic, by: Actor, at: datetime, **detail: object
) -> None:
    audit.record(
        action,
        by=by,
        at=at,
        clinic_id=clinic.pk,
        object_kind="visit",
        object_id=visit_id,
        detail=detail,
    )
