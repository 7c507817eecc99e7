"""Stored results computed again, after the method, the criteria or a temperature check changed.

A run goes clinic by clinic, visit by visit in the order of their ids, a chunk a transaction,
and writes down in each how far it came: killed anywhere, it goes on from there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta
from typing import Any, Final
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import Max, Min, Q

from registry import outbox
from registry.access import audit
from registry.access.scope import Actor, clinic_scope
from registry.caloric.compute import Computed, compute_visits
from registry.caloric.indices import METHOD_VERSION
from registry.intake.changed import note_stored_changed
from registry.intake.context import clinic_context
from registry.intake.differences import Differences
from registry.intake.rows import result_row
from registry.intake.store import insert_rows
from registry.intake.stored import StoredVisit, stored_visits
from registry.models import (
    Clinic,
    Irrigation,
    Network,
    RecomputeRun,
    TemperatureCheck,
    Visit,
    VisitResult,
)

TASK: Final = "registry.recompute_slice"
SLICE: Final = timedelta(seconds=60)
# How far an irrigation's own local date may lie from the date of its visit: a day by the rule
# of the checks, and one more by the time zone.
_BESIDE: Final = timedelta(days=2)


@transaction.atomic
def recompute_start(*, network: Network | None, by: Actor, at: datetime) -> RecomputeRun:
    """Set up a run over a network's clinics, or over all, and the work that will do it."""
    clinics = Clinic.objects.order_by("id")
    if network is not None:
        clinics = clinics.filter(network=network)
    run = RecomputeRun.objects.create(
        network=network,
        method_version=METHOD_VERSION,
        clinics=list(clinics.values_list("id", flat=True)),
        started_at=at,
        started_by=by.name,
    )
    audit.record(
        "recompute.started",
        by=by,
        at=at,
        clinic_id=None,
        object_kind="recompute_run",
        object_id=run.pk,
        detail={"clinics": len(run.clinics)},
    )
    outbox.add(TASK, {"run_id": run.pk}, at=at)
    return run


def recompute_slice(*, run_id: int, clock: Callable[[], datetime]) -> bool:
    """Work on a run until it is finished or the slice is over; True when it is finished.

    ``clock`` gives the time; a slice ends after the chunk in which ``SLICE`` has passed.
    """
    start = clock()
    run = RecomputeRun.objects.get(pk=run_id)
    for clinic_id in _clinics_left(run):
        while _one_chunk(run, clinic_id, at=clock()):
            if clock() - start > SLICE:
                return False
    RecomputeRun.objects.filter(pk=run_id).exclude(state="finished").update(
        state="finished", finished_at=clock()
    )
    return True


def _clinics_left(run: RecomputeRun) -> list[int]:
    if run.state == "finished":
        return []
    last = run.last_clinic_id
    return [number for number in run.clinics if last is None or number >= last]


def _one_chunk(run: RecomputeRun, clinic_id: int, *, at: datetime) -> bool:
    """Recompute the next visits of a clinic; False when it has no more."""
    by = Actor(name=run.started_by, role="operator", request_id=f"recompute {run.pk}")
    with clinic_scope([clinic_id], by=by):
        # Locked, so that two workers on one run take turns and never count a visit twice.
        run.refresh_from_db(from_queryset=RecomputeRun.objects.select_for_update())
        came_past = run.last_clinic_id is not None and run.last_clinic_id > clinic_id
        if came_past or run.state == "finished":
            return False
        rows = _next_rows(run, clinic_id)
        differences = visits_recompute(rows, clinic_id=clinic_id, at=at)
        if rows:
            run.last_visit_id = rows[-1].id
        elif run.last_clinic_id != clinic_id:
            run.last_visit_id = None
        # Else it stays: a run killed here would take the whole clinic for new, and count it twice.
        run.state = "running"
        run.last_clinic_id = clinic_id
        run.visits_seen += len(rows)
        run.visits_changed += differences.visits_changed
        run.summary = differences.added_to(run.summary)
        run.save()
    return bool(rows)


def _next_rows(run: RecomputeRun, clinic_id: int) -> list[Visit]:
    visits = Visit.objects.select_for_update().filter(clinic_id=clinic_id)
    if run.last_clinic_id == clinic_id and run.last_visit_id is not None:
        visits = visits.filter(id__gt=run.last_visit_id)
    return list(visits.order_by("id")[: settings.INTAKE_CHUNK_VISITS])


def visits_recompute(rows: Sequence[Visit], *, clinic_id: int, at: datetime) -> Differences:
    """Recompute these visits of one clinic in the scope that is open; store what changed."""
    differences = Differences()
    if not rows:
        return differences
    context = clinic_context(Clinic.objects.select_related("network").get(pk=clinic_id), at=at)
    stored = stored_visits(rows)
    computed = compute_visits([context.job(one.visit, one.irrigator_ids) for one in stored])
    results = VisitResult.objects.filter(clinic_id=clinic_id, visit_id__in=[r.id for r in rows])
    by_visit = {result.visit_id: result for result in results}
    changed = []
    for one, fresh in zip(stored, computed, strict=True):
        row = result_row(fresh, criteria_set_id=context.criteria_set_id, computed_at=at)
        if differences.note(by_visit.get(one.row.id), row):
            changed.append((one, fresh, row))
    _store(changed, clinic_id=clinic_id, at=at)
    return differences


def _store(
    changed: Sequence[tuple[StoredVisit, Computed, dict[str, Any]]],
    *,
    clinic_id: int,
    at: datetime,
) -> None:
    if not changed:
        return
    visit_ids = [one.row.id for one, _, _ in changed]
    VisitResult.objects.filter(clinic_id=clinic_id, visit_id__in=visit_ids).delete()
    insert_rows(
        VisitResult,
        [{"clinic_id": clinic_id, "visit_id": one.row.id} | row for one, _, row in changed],
    )
    for one, fresh, _ in changed:
        _store_responses(one, fresh)
    note_stored_changed([one for one, _, _ in changed], clinic_id=clinic_id, at=at)


def _store_responses(one: StoredVisit, fresh: Computed) -> None:
    """Update the irrigations whose computed columns came out otherwise."""
    together = zip(one.irrigations, fresh.visit.irrigations, fresh.responses, strict=True)
    # What no longer counts goes first: a cell has room for one that does.
    for row, irrigation, response in sorted(together, key=lambda three: three[2].counts):
        new = {
            "peak_spv": irrigation.peak_spv,
            "peak_basis": irrigation.peak_basis,
            "counted": response.counts,
            "computed_peak_spv": response.computed_peak_spv,
            "computed_peak_se": response.se,
            "culmination_time_s": response.culmination_time_s,
            "kept_beats": response.kept_beats,
            "no_peak_reason": response.reason,
        }
        if any(getattr(row, name) != value for name, value in new.items()):
            Irrigation.objects.filter(pk=row.pk).update(**new)


def recompute_for_checks(*, clinic: Clinic, check: TemperatureCheck, at: datetime) -> int:
    """Recompute the visits whose findings this reading may touch; how many changed.

    Those are the irrigator's visits from the reading before it to the one after it of the same
    stimulus and set temperature, for a reading covers only its own. It may be withdrawn.
    """
    irrigator_id = check.irrigator_id
    first, last = _neighbours(check)
    visits = Visit.objects.select_for_update().filter(clinic_id=clinic.pk).order_by("id")
    visits = visits.filter(
        Q(irrigator_id=irrigator_id) | Q(id__in=_with_irrigation_by(clinic, irrigator_id))
    )
    if first is not None:
        visits = visits.filter(visit_date__gte=clinic.local_date(first) - _BESIDE)
    if last is not None:
        visits = visits.filter(visit_date__lte=clinic.local_date(last) + _BESIDE)
    return sum(
        visits_recompute(chunk, clinic_id=clinic.pk, at=at).visits_changed
        for chunk in _chunks(list(visits))
    )


def _with_irrigation_by(clinic: Clinic, irrigator_id: UUID) -> list[UUID]:
    rows = Irrigation.objects.filter(clinic_id=clinic.pk, irrigator_id=irrigator_id)
    return list(rows.values_list("visit_id", flat=True).distinct())


def _neighbours(check: TemperatureCheck) -> tuple[datetime | None, datetime | None]:
    """When the readings before and after it in its own series were taken; None: there is none."""
    series = TemperatureCheck.objects.filter(
        clinic_id=check.clinic_id,
        irrigator_id=check.irrigator_id,
        stimulus=check.stimulus,
        set_temperature_c=check.set_temperature_c,
        withdrawn_at=None,
    )
    before = series.filter(checked_at__lt=check.checked_at).aggregate(moment=Max("checked_at"))
    after = series.filter(checked_at__gt=check.checked_at).aggregate(moment=Min("checked_at"))
    return before["moment"], after["moment"]


def _chunks(rows: list[Visit]) -> Iterator[list[Visit]]:
    size = settings.INTAKE_CHUNK_VISITS
    for start in range(0, len(rows), size):
        yield rows[start : start + size]
