"""A file of visits: read, checked whole, its good rows loaded, every problem told.

The plain path: one call, one transaction. A file that is refused as a whole leaves nothing.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import BinaryIO, Final
from uuid import UUID

from django.conf import settings
from django.db import IntegrityError, transaction

from registry.access import audit
from registry.access.scope import Actor
from registry.caloric.visit import Visit
from registry.intake.checks import check_visit, has_identifier, merge_faults
from registry.intake.context import ClinicContext, check_agreement, clinic_context
from registry.intake.load import Arrival, visits_load
from registry.intake.missing_codes import AssumeKnown, codes_create_missing
from registry.intake.one_at_a_time import again_after_deadlock, erasing_alone
from registry.intake.readers import FileRefused, ReadLimits, Record, read_visits
from registry.intake.remove import visits_remove, visits_withdraw
from registry.intake.store import insert_rows, refresh_young_statistics
from registry.models import Clinic, Upload, UploadProblem
from registry.models.fields import new_id

_BLOCK: Final = 1024 * 1024
_LIVE: Final = ("received", "reading", "storing", "finished")
# Problems are written as they come, so that a file wrong in every row does not fill the memory.
_PROBLEMS_A_WRITE: Final = 5_000


class UploadNotFound(Exception):
    """There is no such upload at this clinic."""


class _TakenBack(Exception):
    """Inside the transaction: all or nothing was asked for, and it is nothing."""


@dataclass(slots=True)
class _Progress:
    """What one file has come to so far."""

    upload: Upload
    problems: int = 0
    pending: list[dict[str, object]] = field(default_factory=list)

    def add(self, row: int | None, column: str | int | None, code: str) -> None:
        self.problems += 1
        self.pending.append(
            {
                "clinic_id": self.upload.clinic_id,
                "upload_id": self.upload.id,
                "number": self.problems,
                "row": row,
                "column": None if column is None else str(column),
                "code": code,
            }
        )


def upload_receive(
    *,
    clinic: Clinic,
    stream: BinaryIO,
    by: Actor,
    at: datetime,
    policy: str = "keep_valid",
    create_missing: bool = False,
) -> tuple[Upload, bool]:
    """Take a file in and return its record, and whether the file is new.

    The same bytes with the same options from the same clinic give back the first record, so a
    sender may retry freely. With ``all_or_nothing`` one bad visit refuses them all; the record
    then says so and keeps the problems. ``create_missing`` adds codes nobody knows yet.

    :raises FileRefused: if the file cannot be taken as a whole; nothing of it is kept.
    :raises NoAgreement: if the network has no agreement in force.
    """
    check_agreement(clinic, on=clinic.local_date(at))
    digest, size = _measure(stream)
    options = {"sha256": digest, "policy": policy, "create_missing": create_missing}

    @transaction.atomic
    def take_in() -> Upload:
        upload = Upload.objects.create(
            clinic=clinic,
            id=new_id(),
            state="reading",
            size_bytes=size,
            received_at=at,
            received_by=by.name,
            **options,
        )
        stream.seek(0)
        _take_in(upload, stream, by=by, at=at)
        return upload

    try:
        return again_after_deadlock(take_in), True
    except IntegrityError:
        # The constraint found the same file; anything else it found is a real fault.
        first = Upload.objects.filter(
            clinic=clinic, state__in=_LIVE, undone_at=None, **options
        ).order_by("id")
        same = first.first()
        if same is None:
            raise
        return same, False


def _measure(stream: BinaryIO) -> tuple[bytes, int]:
    """SHA-256 and size of the bytes, read block by block.

    :raises FileRefused: ``file_too_large`` or ``file_empty``.
    """
    digest, size = hashlib.sha256(), 0
    while block := stream.read(_BLOCK):
        digest.update(block)
        size += len(block)
        if size > settings.UPLOAD_MAX_BYTES:
            raise FileRefused("file_too_large")
    if size == 0:
        raise FileRefused("file_empty")
    stream.seek(0)
    return digest.digest(), size


def _take_in(upload: Upload, stream: BinaryIO, *, by: Actor, at: datetime) -> None:
    progress = _Progress(upload)
    try:
        with transaction.atomic():
            _load_all(progress, stream, by=by, at=at)
            if progress.problems and upload.policy == "all_or_nothing":
                raise _TakenBack
        upload.state = "finished"
    except _TakenBack:
        upload.state = "refused"
        upload.visits_refused = upload.rows_total
        upload.visits_created = upload.visits_unchanged = upload.visits_conflicting = 0
    insert_rows(UploadProblem, progress.pending)
    upload.finished_at = at
    upload.save()
    _record("upload.received", upload, by=by, at=at)


def _load_all(progress: _Progress, stream: BinaryIO, *, by: Actor, at: datetime) -> None:
    upload = progress.upload
    context = clinic_context(upload.clinic, at=at)
    arrival = Arrival(by=by, at=at, via="file", upload_id=upload.id)
    limits = ReadLimits(file=settings.UPLOAD_MAX_BYTES, unpacked=settings.UPLOAD_MAX_UNPACKED_BYTES)
    records = read_visits(stream, limits=limits, defaulted=context.visit_defaults)
    for number, chunk in enumerate(_chunks(records, settings.INTAKE_CHUNK_VISITS)):
        if number == 1:
            refresh_young_statistics()
        _load_chunk(progress, chunk, context, arrival)
        if len(progress.pending) > _PROBLEMS_A_WRITE and upload.policy == "keep_valid":
            insert_rows(UploadProblem, progress.pending)
            progress.pending.clear()


def _chunks(records: Iterator[Record], size: int) -> Iterator[list[Record]]:
    while chunk := list(islice(records, size)):
        yield chunk


def _load_chunk(
    progress: _Progress, chunk: list[Record], context: ClinicContext, arrival: Arrival
) -> None:
    upload = progress.upload
    upload.rows_total += len(chunk)
    good = _check(progress, chunk, context, arrival.at)
    if upload.create_missing:
        visits = [visit for _, visit in good]
        codes_create_missing(visits, context=context, by=arrival.by, at=arrival.at)
    outcomes = visits_load([visit for _, visit in good], context=context, arrival=arrival)
    for (record, _), outcome in zip(good, outcomes, strict=True):
        if outcome.status == "created":
            upload.visits_created += 1
        elif outcome.status == "unchanged":
            upload.visits_unchanged += 1
        else:
            upload.visits_conflicting += 1
            _tell(progress, record, "/visit_ref", outcome.status)
    upload.rows_done += len(chunk)


def _check(
    progress: _Progress, chunk: Iterable[Record], context: ClinicContext, at: datetime
) -> list[tuple[Record, Visit]]:
    """The good visits of a chunk; the faults of the others go to the report."""
    upload = progress.upload
    directory = AssumeKnown(context.directory) if upload.create_missing else context.directory
    today = context.clinic.local_date(at)
    good = []
    for record in chunk:
        visit, found = check_visit(
            record.data,
            directory=directory,
            today=today,
            defaults=context.visit_defaults,
            zone=context.zone,
        )
        faults = merge_faults(record.faults, found)
        if visit is not None and not faults:
            good.append((record, visit))
            continue
        upload.visits_refused += 1
        upload.identifiers_found |= has_identifier(faults)
        for fault in faults:
            _tell(progress, record, fault.pointer, fault.code)
    return good


def _tell(progress: _Progress, record: Record, pointer: str, code: str) -> None:
    row, column = record.place_of(pointer)
    # A line of JSON has no columns; the pointer says where in it.
    progress.add(row, column if column is not None else pointer or None, code)


@transaction.atomic
def upload_undo(*, clinic: Clinic, upload_id: UUID, by: Actor, at: datetime) -> int:
    """Withdraw every visit that a file brought, and return how many; the file may come again.

    :raises UploadNotFound: if the clinic has no such upload.
    """
    upload = _locked(clinic, upload_id)
    if upload.undone_at is not None:
        return 0
    withdrawn = visits_withdraw(clinic=clinic, upload_id=upload_id, by=by, at=at)
    upload.undone_at, upload.undone_by = at, by.name
    upload.save(update_fields=["undone_at", "undone_by"])
    _record("upload.undone", upload, by=by, at=at, withdrawn=withdrawn)
    return withdrawn


@transaction.atomic
def upload_purge(*, clinic: Clinic, upload_id: UUID, by: Actor, at: datetime) -> None:
    """Remove all trace of a file: its visits, their history, its problems, its record.

    For a file in which identifiers were sent. What stays is an audit event with counts.

    :raises UploadNotFound: if the clinic has no such upload.
    """
    # As in an erasure: a subject that is left without a visit here may be coming back elsewhere.
    erasing_alone(clinic.pk)
    upload = _locked(clinic, upload_id)
    removed = visits_remove(clinic=clinic, upload_id=upload_id, at=at)
    UploadProblem.objects.filter(clinic_id=clinic.pk, upload_id=upload_id).delete()
    Upload.objects.filter(clinic=clinic, id=upload_id).delete()
    _record("upload.purged", upload, by=by, at=at, removed=removed)


def _locked(clinic: Clinic, upload_id: UUID) -> Upload:
    upload = (
        Upload.objects.select_for_update()
        .filter(clinic=clinic, id=upload_id)
        .order_by("id")
        .first()
    )
    if upload is None:
        raise UploadNotFound
    return upload


def _record(action: str, upload: Upload, *, by: Actor, at: datetime, **detail: object) -> None:
    counts = ("visits_created", "visits_unchanged", "visits_conflicting", "visits_refused")
    audit.record(
        action,
        by=by,
        at=at,
        clinic_id=upload.clinic_id,
        object_kind="upload",
        object_id=upload.id,
        detail={name: getattr(upload, name) for name in counts} | detail,
    )
