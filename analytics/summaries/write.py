"""Summaries written: all of a clinic after a build, only what moved after an upload."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any
from uuid import UUID

import numpy as np
from django.db.models import F, Q

from analytics.measures import catalogue
from analytics.models import CheckCell, SubjectSummary
from analytics.rollups.irrigators import drift_json, readings_of
from analytics.rollups.merge import CellTable, month_back, read_cells
from analytics.rollups.refresh import WORKER, refresh_alone
from analytics.summaries.measures import (
    FIGURE_MONTHS,
    measure_figures,
    shown_months,
    visits_by_month,
)
from analytics.summaries.work import work_of
from registry.access.scope import clinic_scope
from registry.models import Clinic

Figures = dict[str, Any]


def summaries_refresh(clinic_id: int, *, at: datetime, limit: int | None = None) -> int:
    """Write the figures anew that are behind their data; how many there were.

    One transaction of one clinic, after its sums; how a subject compares stays as the last build
    found it. ``limit`` keeps a transaction short.
    """
    clinic = Clinic.objects.get(pk=clinic_id)
    with clinic_scope([clinic_id], by=WORKER):
        refresh_alone(clinic_id)
        rows = SubjectSummary.objects.filter(clinic_id=clinic_id, moved_at__isnull=False)
        behind = rows.filter(Q(built_at=None) | Q(moved_at__gt=F("built_at")))
        keys = list(
            behind.order_by("subject_kind", "subject_id").values_list("subject_kind", "subject_id")
        )[:limit]
        subjects: dict[str, list[UUID]] = {}
        for kind, subject_id in keys:
            subjects.setdefault(kind, []).append(subject_id)
        _write(clinic, subjects, at=at)
    return len(keys)


def _write(clinic: Clinic, subjects: dict[str, list[UUID]], *, at: datetime) -> None:
    until = clinic.local_date(at)
    made: dict[tuple[str, UUID], Figures] = {}
    if testers := subjects.get("tester"):
        made |= _testers(clinic, testers, until)
    if irrigators := subjects.get("irrigator"):
        made |= _irrigators(clinic, irrigators, until)
    if subjects.get("clinic"):
        made[("clinic", clinic.public_id)] = clinic_figures(clinic, until)
    for (kind, subject_id), figures in made.items():
        SubjectSummary.objects.filter(
            clinic_id=clinic.pk, subject_kind=kind, subject_id=subject_id
        ).update(figures=figures, built_at=at, covers_until=until)


def _testers(clinic: Clinic, ids: Sequence[UUID], until: date) -> dict[tuple[str, UUID], Figures]:
    cells = read_cells([clinic.pk], tester_id__in=ids)
    since = month_back(until.replace(day=1), FIGURE_MONTHS - 1)
    work = work_of(clinic.pk, ids, since=since)
    return {
        ("tester", one): _common("tester", cells, _rows(cells.testers, one), until) | work[one]
        for one in ids
    }


def _irrigators(
    clinic: Clinic, ids: Sequence[UUID], until: date
) -> dict[tuple[str, UUID], Figures]:
    cells = read_cells([clinic.pk], irrigator_id__in=ids)
    drifts: dict[UUID, list[Figures]] = {one: [] for one in ids}
    for readings in readings_of(clinic.pk, ids):
        drifts[readings.irrigator_id].append(drift_json(readings, readings.drift()))
    return {
        ("irrigator", one): _common("irrigator", cells, _rows(cells.irrigators, one), until)
        | {"checks": _checks(clinic.pk, one, until), "drift": drifts[one]}
        for one in ids
    }


def clinic_figures(clinic: Clinic, until: date) -> Figures:
    """The figures of all of a clinic's visits together."""
    cells = read_cells([clinic.pk])
    return _common("clinic", cells, np.arange(len(cells), dtype=np.int64), until)


def _rows(ids: Sequence[UUID], wanted: UUID) -> np.ndarray[Any, Any]:
    return np.array([at for at, one in enumerate(ids) if one == wanted], dtype=np.int64)


def _common(kind: str, cells: CellTable, rows: np.ndarray[Any, Any], until: date) -> Figures:
    return {
        "months": [month.isoformat() for month in shown_months(until)],
        "visits": visits_by_month(cells, rows, until=until),
        "measures": measure_figures(cells, rows, catalogue().of(kind), until=until),
        "testers": _shares(cells, rows, cells.testers, until) if kind != "tester" else None,
        "irrigators": _shares(cells, rows, cells.irrigators, until),
        "recorders": _shares(cells, rows, cells.recorders, until),
        "strata": _shares(cells, rows, cells.strata, until),
    }


def _shares(
    cells: CellTable, rows: np.ndarray[Any, Any], ids: Iterable[object], until: date
) -> list[Figures]:
    """With whom or what the visits of the last year were done, the most used first."""
    since = month_back(until.replace(day=1), FIGURE_MONTHS - 1)
    names = list(ids)
    counts: Counter[str] = Counter()
    for at in rows.tolist():
        if cells.months[at] >= since and names[at] is not None:
            counts[str(names[at])] += int(cells.visits[at])
    return [
        {"id": one, "visits": visits}
        for one, visits in sorted(counts.items(), key=lambda two: (-two[1], two[0]))
    ]


def _checks(clinic_id: int, irrigator_id: UUID, until: date) -> list[Figures]:
    """Readings of the last year by stimulus: how many, within tolerance, mean deviation in Cel."""
    since = month_back(until.replace(day=1), FIGURE_MONTHS - 1)
    sums: dict[str, list[float]] = {}
    for cell in CheckCell.objects.filter(
        clinic_id=clinic_id, irrigator_id=irrigator_id, month__gte=since
    ):
        total = sums.setdefault(cell.stimulus, [0.0, 0.0, 0.0])
        total[0] += cell.readings
        total[1] += cell.within
        total[2] += cell.s
    return [
        {
            "stimulus": stimulus,
            "readings": int(n),
            "within": int(within),
            "mean_c": s / n if n else None,
        }
        for stimulus, (n, within, s) in sorted(sums.items())
    ]
