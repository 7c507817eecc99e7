"""What changed is summed anew, and only that; killed anywhere, it is found again.

A chunk is one transaction of one clinic: it takes some changed keys, makes their sums from the
visits as they are, and removes just the keys it took. A key that came meanwhile stays for the
next chunk. Two workers on one clinic take turns, or the slower would write older sums.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Final
from uuid import UUID

from django.db import connection
from django.db.models import F

from analytics.models import Cell, NetworkState, SubjectSummary
from analytics.rollups.cells import cells_replace
from analytics.rollups.checks import check_cells_replace
from analytics.rollups.facts import FactRows, TesterMonth, read_facts
from analytics.rollups.mix import mix_latest
from analytics.rollups.pairs import pairs_replace
from analytics.rollups.stand_outs import stand_outs_replace
from registry.access.scope import Actor, clinic_scope
from registry.models import ChangedKey, Clinic

# About 5,000 visits a transaction at 25 a tester and month.
CHUNK_KEYS: Final = 200
# A space of its own for advisory locks; the second number is the clinic.
_REFRESH_LOCK: Final = 7003
WORKER: Final = Actor(name="analytics", role="worker")


@dataclass(slots=True)
class Refreshed:
    """What a chunk did; ``more`` says whether keys are left."""

    visits: int = 0
    cells: int = 0
    keys: int = 0
    more: bool = False
    testers: set[UUID] = field(default_factory=set)
    irrigators: set[UUID] = field(default_factory=set)


def clinic_refresh_chunk(clinic_id: int, *, at: datetime, size: int = CHUNK_KEYS) -> Refreshed:
    """Sum some of a clinic's changed months anew, in a transaction of its own."""
    clinic = Clinic.objects.select_related("network").get(pk=clinic_id)
    with clinic_scope([clinic_id], by=WORKER):
        refresh_alone(clinic_id)
        taken = _take(clinic_id, size)
        done = Refreshed(keys=len(taken.ids), more=taken.more)
        if taken.testers:
            _tester_months(clinic, taken.testers, done, at=at)
        if taken.irrigators:
            check_cells_replace(clinic_id, taken.irrigators, zone=clinic.time_zone, at=at)
            done.irrigators |= {irrigator for irrigator, _ in taken.irrigators}
        _mark_moved(clinic, done, at=at)
        ChangedKey.objects.filter(clinic_id=clinic_id, id__in=taken.ids).delete()
    return done


def refresh_alone(clinic_id: int) -> None:
    """Wait until no other worker sums this clinic; held to the end of the transaction."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s, %s)", [_REFRESH_LOCK, clinic_id])


@dataclass(frozen=True, slots=True)
class _Taken:
    ids: list[int]
    testers: list[TesterMonth]
    irrigators: list[tuple[UUID, date]]
    more: bool


def _take(clinic_id: int, size: int) -> _Taken:
    """The oldest keys, up to ``size`` different ones; ids are all rows that say the same."""
    rows = ChangedKey.objects.filter(clinic_id=clinic_id).order_by("id")
    found = list(rows.values_list("id", "subject_of_change", "key_id", "month")[: size * 20])
    keys: dict[tuple[str, UUID, date], list[int]] = {}
    for id_, kind, key_id, month in found:
        keys.setdefault((kind, key_id, month), []).append(id_)
    chosen = list(keys)[:size]
    return _Taken(
        ids=[id_ for key in chosen for id_ in keys[key]],
        testers=[(key, month) for kind, key, month in chosen if kind == "tester"],
        irrigators=[(key, month) for kind, key, month in chosen if kind == "irrigator"],
        more=len(keys) > size or len(found) == size * 20,
    )


def _tester_months(
    clinic: Clinic, keys: list[TesterMonth], done: Refreshed, *, at: datetime
) -> None:
    done.irrigators |= _irrigators_of(clinic.pk, keys)
    rows = read_facts(clinic.pk, keys)
    mix = mix_latest(clinic.network_id)
    done.cells += cells_replace(clinic.pk, keys, rows, mix=mix, at=at)
    pairs_replace(clinic.pk, keys)
    stand_outs_replace(clinic, keys, rows)
    done.visits += len(rows)
    done.testers |= {tester for tester, _ in keys}
    done.irrigators |= _irrigators_in(rows)


def _irrigators_in(rows: FactRows) -> set[UUID]:
    return set(rows.irrigator_ids)


def _irrigators_of(clinic_id: int, keys: list[TesterMonth]) -> set[UUID]:
    """Irrigators in the sums as they were: a visit that left an irrigator moves its figures."""
    cells = Cell.objects.filter(
        clinic_id=clinic_id,
        tester_id__in={tester for tester, _ in keys},
        month__in={month for _, month in keys},
    )
    return set(cells.values_list("irrigator_id", flat=True).distinct())


def _mark_moved(clinic: Clinic, done: Refreshed, *, at: datetime) -> None:
    """Say which subjects' figures are behind their data, in the same transaction."""
    subjects = [("tester", one) for one in done.testers]
    subjects += [("irrigator", one) for one in done.irrigators]
    if not subjects:
        return
    subjects.append(("clinic", clinic.public_id))
    SubjectSummary.objects.bulk_create(
        [
            SubjectSummary(
                clinic_id=clinic.pk, subject_kind=kind, subject_id=id_, figures={}, moved_at=at
            )
            for kind, id_ in sorted(subjects, key=str)
        ],
        ignore_conflicts=True,
    )
    for kind in ("tester", "irrigator", "clinic"):
        SubjectSummary.objects.filter(
            clinic_id=clinic.pk,
            subject_kind=kind,
            subject_id__in=[id_ for one, id_ in subjects if one == kind],
        ).update(moved_at=at)
    NetworkState.objects.update_or_create(
        network_id=clinic.network_id,
        defaults={"data_changed_at": at, "refreshed_at": at},
    )


def summaries_behind(clinic_id: int) -> int:
    """How many subjects' figures are older than their data."""
    return (
        SubjectSummary.objects.filter(clinic_id=clinic_id, moved_at__isnull=False)
        .exclude(moved_at__lte=F("built_at"))
        .count()
    )
