"""Look-backs kept in step with the checks: opened, widened or narrowed; decisions are kept."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any, Final
from uuid import UUID

from django.db.models import F, Q

from analytics.detection.lookback import LookedBack, Suspect, look_back
from analytics.look_backs.runs import Run, failed_runs
from analytics.models import LookBack, LookBackVisit, SubjectSummary
from analytics.rollups.refresh import WORKER, refresh_alone
from registry.access import audit
from registry.access.scope import clinic_scope
from registry.intake.context import clinic_context
from registry.intake.stored import StoredVisit, stored_visits
from registry.models import Clinic, Irrigation, TemperatureCheck, Visit

# Without any good check before it nobody knows since when; a year back is looked at.
_WITHOUT_GOOD_CHECK: Final = timedelta(days=365)


def look_backs_refresh(clinic_id: int, *, at: datetime) -> int:
    """Look back over the irrigators whose data moved; how many stretches there are.

    One transaction of one clinic, between its sums and its figures.
    """
    clinic = Clinic.objects.select_related("network").get(pk=clinic_id)
    with clinic_scope([clinic_id], by=WORKER):
        refresh_alone(clinic_id)
        moved = SubjectSummary.objects.filter(
            Q(built_at=None) | Q(moved_at__gt=F("built_at")),
            clinic_id=clinic_id,
            subject_kind="irrigator",
            moved_at__isnull=False,
        )
        irrigators = list(moved.values_list("subject_id", flat=True))
        checks = TemperatureCheck.objects.filter(
            clinic_id=clinic_id, irrigator_id__in=irrigators, withdrawn_at=None
        )
        runs = failed_runs(checks)
        for run in runs:
            _look_back(clinic, run, at=at)
        _remove_undecided(clinic_id, irrigators, runs)
    return len(runs)


def _look_back(clinic: Clinic, run: Run, *, at: datetime) -> None:
    seen = {
        "irrigator_id": run.irrigator_id,
        "stimulus": run.stimulus,
        "set_temperature_c": run.set_temperature_c,
        "deviation_c": run.deviation_c,
        "tolerance_c": run.tolerance_c,
        "last_good_at": run.last_good_at,
        "checked_at": run.checked_at,
        "until_at": run.until_at,
    }
    row, created = LookBack.objects.update_or_create(
        clinic_id=clinic.pk,
        check_id=run.check_id,
        defaults=seen,
        create_defaults=seen | {"opened_at": at},
    )
    if created:
        _record(row, at=at)
    _write_visits(clinic, row, run, at=at)


def _write_visits(clinic: Clinic, row: LookBack, run: Run, *, at: datetime) -> None:
    stored = _visits(clinic, run)
    context = clinic_context(clinic, at=at)
    codes = {id_: code for one in stored for code, id_ in one.irrigator_ids.items()}
    suspect = Suspect(
        irrigator=codes.get(run.irrigator_id, ""),
        stimulus=run.stimulus,
        error_c=run.deviation_c,
        tolerance_c=run.tolerance_c,
        set_temperature_c=run.set_temperature_c,
    )
    found = look_back([context.job(one.visit, one.irrigator_ids) for one in stored], suspect)
    kept = LookBackVisit.objects.filter(clinic_id=clinic.pk, look_back_id=row.id)
    kept.filter(decision=None).exclude(visit_id__in=[one.row.id for one in stored]).delete()
    for one, looked in zip(stored, found, strict=True):
        LookBackVisit.objects.update_or_create(
            clinic_id=clinic.pk,
            look_back_id=row.id,
            visit_id=one.row.id,
            defaults=_columns(one, looked),
        )


def _columns(one: StoredVisit, looked: LookedBack) -> dict[str, Any]:
    weakness = looked.weakness_range or (None, None)
    preponderance = looked.preponderance_range or (None, None)
    return {
        "month": one.row.visit_date.replace(day=1),
        "visit_date": one.row.visit_date,
        "as_sent": list(looked.as_sent.met),
        "at_worst": list(looked.at_worst),
        "changed": list(looked.changed),
        "weakness_low": weakness[0],
        "weakness_high": weakness[1],
        "preponderance_low": preponderance[0],
        "preponderance_high": preponderance[1],
    }


def _visits(clinic: Clinic, run: Run) -> list[StoredVisit]:
    """Visits in force with this irrigator and stimulus, from the last good check to the next."""
    since = run.last_good_at or run.checked_at - _WITHOUT_GOOD_CHECK
    touched = Irrigation.objects.filter(
        Q(irrigator_id=run.irrigator_id)
        | Q(irrigator_id=None, visit__irrigator_id=run.irrigator_id),
        clinic_id=clinic.pk,
        stimulus=run.stimulus,
        visit__withdrawn_at=None,
        visit__visit_date__gte=clinic.local_date(since),
    )
    if run.until_at is not None:
        touched = touched.filter(visit__visit_date__lte=clinic.local_date(run.until_at))
    inside = {
        visit_id
        for visit_id, started in touched.values_list("visit_id", "started_at")
        if _inside(started, since, run.until_at)
    }
    rows = Visit.objects.filter(clinic_id=clinic.pk, id__in=inside).order_by("visit_date", "id")
    return stored_visits(list(rows))


def _inside(started: datetime | None, since: datetime, until: datetime | None) -> bool:
    """Without a clock time the day decides, so a test of the day of a check counts as inside."""
    return started is None or (started > since and (until is None or started < until))


def _remove_undecided(clinic_id: int, irrigators: Sequence[UUID], runs: Sequence[Run]) -> None:
    """Look-backs whose failed check was withdrawn go, unless somebody decided on a visit."""
    gone = LookBack.objects.filter(clinic_id=clinic_id, irrigator_id__in=irrigators).exclude(
        check_id__in=[run.check_id for run in runs]
    )
    for row in gone:
        visits = LookBackVisit.objects.filter(clinic_id=clinic_id, look_back_id=row.id)
        visits.filter(decision=None).delete()
        if not visits.exists():
            LookBack.objects.filter(clinic_id=clinic_id, id=row.id).delete()


def _record(row: LookBack, *, at: datetime) -> None:
    audit.record(
        "look_back.opened",
        by=WORKER,
        at=at,
        clinic_id=row.clinic_id,
        object_kind="look_back",
        object_id=row.id,
        detail={"stimulus": row.stimulus},
    )
