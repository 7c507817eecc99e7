"""Checked visits into the registry: computed, stored, and each given one outcome."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal
from uuid import UUID

from registry.access.scope import Actor
from registry.caloric.compute import Computed, compute_visits
from registry.caloric.visit import Visit
from registry.intake.changed import note_changed
from registry.intake.checks import content_digest
from registry.intake.context import ClinicContext
from registry.intake.one_at_a_time import loading_beside_others
from registry.intake.rows import (
    Codes,
    as_compared,
    as_kept,
    beats_rows,
    irrigation_rows,
    result_row,
    visit_row,
)
from registry.intake.store import insert_rows
from registry.intake.tombstones import refs_erased
from registry.models import Irrigation, ResponseBeats, Subject, VisitResult
from registry.models import Visit as VisitRow
from registry.models.fields import new_id

Status = Literal[
    "created",
    "unchanged",
    "visit_changed",
    "visit_withdrawn",
    "visit_erased",
    "subject_erased",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """How and when the visits of one call came in."""

    by: Actor
    at: datetime
    via: str
    upload_id: UUID | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one visit; ``visit_id`` is the stored one's, new or old."""

    status: Status
    visit_id: UUID | None


@dataclass(frozen=True, slots=True)
class _Stored:
    id: UUID
    digest: bytes
    withdrawn: bool


def visits_load(
    visits: Sequence[Visit], *, context: ClinicContext, arrival: Arrival
) -> list[Outcome]:
    """Store those that are new, all in this transaction, and say what became of each.

    The same content again is ``unchanged``, also twice in one call; the same reference with
    other content is ``visit_changed``, and nothing of it is stored. A constraint decides in the
    end: when another transaction was quicker, its visit counts as there already.
    """
    loading_beside_others(context.clinic.pk)
    kept = [as_kept(visit) for visit in visits]
    digests = [content_digest(as_compared(visit)) for visit in kept]
    outcomes, fresh = _sort(kept, digests, context)
    computed = compute_visits([context.job(kept[index]) for index in fresh])
    batch = [
        _Row(new_id(), kept[index], digests[index], one)
        for index, one in zip(fresh, computed, strict=True)
    ]
    inserted = _insert(batch, context=context, arrival=arrival)
    for index, row in zip(fresh, batch, strict=True):
        if row.id in inserted:
            outcomes[index] = Outcome("created", row.id)
    return _settle(kept, digests, outcomes, context)


@dataclass(frozen=True, slots=True)
class _Row:
    id: UUID
    visit: Visit
    digest: bytes
    computed: Computed


def _sort(
    visits: list[Visit], digests: list[bytes], context: ClinicContext
) -> tuple[dict[int, Outcome], list[int]]:
    """Outcomes of what is already there or was erased, and the positions of the rest."""
    stored = _stored(visits, context)
    erased = refs_erased(context.clinic.pk, visits)
    outcomes: dict[int, Outcome] = {}
    fresh: list[int] = []
    taken: set[str] = set()
    for index, visit in enumerate(visits):
        gone = erased.get(visit.visit_ref)
        if gone is not None:
            outcomes[index] = Outcome(gone, None)
        elif visit.visit_ref in stored:
            outcomes[index] = _compared(stored[visit.visit_ref], digests[index])
        elif visit.visit_ref not in taken:
            taken.add(visit.visit_ref)
            fresh.append(index)
    return outcomes, fresh


def _settle(
    visits: list[Visit],
    digests: list[bytes],
    outcomes: Mapping[int, Outcome],
    context: ClinicContext,
) -> list[Outcome]:
    """Fill in those that had to wait: a reference twice in one call, or a quicker rival."""
    waiting = [index for index in range(len(visits)) if index not in outcomes]
    stored = _stored([visits[index] for index in waiting], context)
    late = {index: _compared(stored[visits[index].visit_ref], digests[index]) for index in waiting}
    return [outcomes.get(index) or late[index] for index in range(len(visits))]


def _compared(stored: _Stored, digest: bytes) -> Outcome:
    if stored.withdrawn:
        return Outcome("visit_withdrawn", stored.id)
    return Outcome("unchanged" if stored.digest == digest else "visit_changed", stored.id)


def _stored(visits: Sequence[Visit], context: ClinicContext) -> dict[str, _Stored]:
    if not visits:
        return {}
    rows = VisitRow.objects.filter(
        clinic_id=context.clinic.pk, visit_ref__in=[visit.visit_ref for visit in visits]
    ).values_list("visit_ref", "id", "content_digest", "withdrawn_at")
    return {
        ref: _Stored(id_, bytes(digest), withdrawn_at is not None)
        for ref, id_, digest, withdrawn_at in rows
    }


def _insert(batch: list[_Row], *, context: ClinicContext, arrival: Arrival) -> set[UUID]:
    subjects = subject_ids([row.visit for row in batch], context=context, at=arrival.at)
    codes = [codes_on(row.visit, subjects=subjects, context=context) for row in batch]
    inserted = set(
        insert_rows(
            VisitRow,
            [
                whole_visit_row(row.visit, row.computed, code, row.digest)
                | _provenance(row.id, context, arrival)
                for row, code in zip(batch, codes, strict=True)
            ],
            returning="id",
        )
    )
    done = [(row, code) for row, code in zip(batch, codes, strict=True) if row.id in inserted]
    for model, rows in _children(done, context=context, at=arrival.at).items():
        insert_rows(model, rows)
    note_changed([row.visit for row, _ in done], context=context, at=arrival.at)
    return inserted


def whole_visit_row(
    visit: Visit, computed: Computed, codes: Codes, digest: bytes
) -> dict[str, Any]:
    return visit_row(visit, computed, codes) | {"content_digest": digest}


def _provenance(id_: UUID, context: ClinicContext, arrival: Arrival) -> dict[str, Any]:
    return {
        "clinic_id": context.clinic.pk,
        "id": id_,
        "version": 1,
        "received_at": arrival.at,
        "received_via": arrival.via,
        "received_by": arrival.by.name,
        "upload_id": arrival.upload_id,
    }


def _children(
    done: Sequence[tuple[_Row, Codes]], *, context: ClinicContext, at: datetime
) -> dict[type[Any], list[dict[str, Any]]]:
    children: dict[type[Any], list[dict[str, Any]]] = {
        Irrigation: [],
        ResponseBeats: [],
        VisitResult: [],
    }
    for row, codes in done:
        for model, rows in child_rows(
            row.id, row.visit, row.computed, codes, context=context, at=at
        ).items():
            children[model].extend(rows)
    return children


def child_rows(
    visit_id: UUID,
    visit: Visit,
    computed: Computed,
    codes: Codes,
    *,
    context: ClinicContext,
    at: datetime,
) -> dict[type[Any], list[dict[str, Any]]]:
    """The rows under one visit, by table, in the order their foreign keys allow."""
    key = {"clinic_id": context.clinic.pk, "visit_id": visit_id}
    result = result_row(computed, criteria_set_id=context.criteria_set_id, computed_at=at)
    return {
        Irrigation: [key | row for row in irrigation_rows(visit, computed, codes)],
        ResponseBeats: [key | row for row in beats_rows(computed)],
        VisitResult: [key | result],
    }


def codes_on(visit: Visit, *, subjects: Mapping[str, UUID], context: ClinicContext) -> Codes:
    testers, irrigators, recorders = context.directory.ids_on(visit.visit_date)
    return Codes(
        subject=subjects[visit.subject_ref],
        tester=testers,
        irrigator=irrigators,
        recorder=recorders,
    )


def subject_ids(
    visits: Sequence[Visit], *, context: ClinicContext, at: datetime
) -> dict[str, UUID]:
    """Ids by reference, new subjects added; two senders at once end with one row."""
    refs = sorted({visit.subject_ref for visit in visits})
    clinic_id = context.clinic.pk
    insert_rows(
        Subject,
        [{"clinic_id": clinic_id, "id": new_id(), "ref": ref, "created_at": at} for ref in refs],
        returning="id",
    )
    found = Subject.objects.filter(clinic_id=clinic_id, ref__in=refs)
    return dict(found.values_list("ref", "id"))
