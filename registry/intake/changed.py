"""Which testers' and irrigators' months changed: written with the rows, read by analytics."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from uuid import UUID

from registry.caloric.visit import Visit
from registry.intake.context import ClinicContext
from registry.intake.store import insert_rows
from registry.intake.stored import StoredVisit
from registry.models import ChangedKey

Key = tuple[str, UUID, date]


def note_changed(visits: Sequence[Visit], *, context: ClinicContext, at: datetime) -> None:
    """One row for each tester's and irrigator's month that these visits belong to."""
    keys: set[Key] = set()
    for visit in visits:
        keys |= _keys_of(visit, context)
    note_keys(keys, clinic_id=context.clinic.pk, at=at)


def note_stored_changed(stored: Sequence[StoredVisit], *, clinic_id: int, at: datetime) -> None:
    """The same for visits that are in the database, by the ids that stand in their rows."""
    keys: set[Key] = set()
    for one in stored:
        month = one.row.visit_date.replace(day=1)
        keys |= {("tester", id_, month) for id_ in one.tester_ids}
        keys |= {("irrigator", id_, month) for id_ in one.irrigator_ids.values()}
    note_keys(keys, clinic_id=clinic_id, at=at)


def note_keys(keys: set[Key], *, clinic_id: int, at: datetime) -> None:
    insert_rows(
        ChangedKey,
        [
            {
                "clinic_id": clinic_id,
                "subject_of_change": kind,
                "key_id": id_,
                "month": month,
                "changed_at": at,
            }
            for kind, id_, month in sorted(keys, key=str)
        ],
    )


def _keys_of(visit: Visit, context: ClinicContext) -> set[Key]:
    testers, irrigators, _ = context.directory.ids_on(visit.visit_date)
    month = visit.visit_date.replace(day=1)
    tester_codes = {visit.tester, *(one.tester for one in visit.irrigations if one.tester)}
    irrigator_codes = {
        visit.irrigator,
        *(one.irrigator for one in visit.irrigations if one.irrigator),
    }
    return {("tester", testers[code], month) for code in tester_codes} | {
        ("irrigator", irrigators[code], month) for code in irrigator_codes
    }
