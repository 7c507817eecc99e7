"""A network evaluated and written down: all at once at the end, so that nobody sees a half."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Final
from uuid import UUID

from django.db import connection

from analytics.builds.evaluate import NetworkEvaluated, network_evaluate
from analytics.builds.found import episodes_found
from analytics.detection.evaluation import Evaluation
from analytics.measures import catalogue
from analytics.measures.catalogue import SCORES_VERSION
from analytics.models import Build, NetworkState, Signal, StandOut, SubjectSummary
from analytics.rollups.irrigators import readings_of
from analytics.rollups.merge import CellTable, read_cells
from analytics.rollups.refresh import WORKER
from analytics.signals.drift import drift_found
from analytics.signals.effect import effects_check
from analytics.signals.found import Found
from analytics.signals.rules import (
    Backwards,
    after_failed_found,
    digits_found,
    exchanged_found,
)
from analytics.signals.sync import ENGINE_VERSION, signals_sync
from analytics.summaries.compared import compared_of
from registry.access.scope import clinic_scope
from registry.models import Clinic, Network

# A space of its own for advisory locks; the second number is the network.
_BUILD_LOCK: Final = 7004


@dataclass(frozen=True, slots=True)
class Built:
    """What a build did."""

    build: Build
    opened: list[Signal]


def last_complete_month(day: date) -> date:
    """The last day of the month before the one of ``day``."""
    return day.replace(day=1) - timedelta(days=1)


def network_build(network: Network, *, at: datetime, until: date | None = None) -> Built | None:
    """Evaluate a network up to the last complete month and write down what was found.

    ``None`` for a network without clinics. One transaction: parameters, how each subject
    compares, and signals change together or not at all.
    """
    clinics = list(Clinic.objects.filter(network=network).order_by("id"))
    if not clinics:
        return None
    covers_until = last_complete_month(until or _local_day(clinics, at))
    ids = [clinic.pk for clinic in clinics]
    with clinic_scope(ids, by=WORKER):
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s, %s)", [_BUILD_LOCK, network.pk])
        cells = read_cells(ids)
        evaluated = network_evaluate(cells, catalogue(), until=covers_until)
        found = all_found(clinics, cells, evaluated, until=covers_until)
        opened = signals_sync(ids, found, month=covers_until.replace(day=1), by=WORKER, at=at)
        effects_check(ids, covers_until=covers_until, at=at)
        build = _store(network, clinics, cells, evaluated, covers_until, at)
        _store_compared(clinics, evaluated, build)
    return Built(build, opened)


def _local_day(clinics: Sequence[Clinic], at: datetime) -> date:
    """The earliest day it is at any of the clinics: a month is over when it is over for all."""
    return min(clinic.local_date(at) for clinic in clinics)


def all_found(
    clinics: Sequence[Clinic], cells: CellTable, evaluated: NetworkEvaluated, *, until: date
) -> list[Found]:
    """Everything that deserves a look, by comparing, by rule and by drift."""
    uuids = {clinic.pk: clinic.public_id for clinic in clinics}
    ids = [clinic.pk for clinic in clinics]
    drifts = [(of, of.drift()) for clinic_id in ids for of in readings_of(clinic_id)]
    by_rule = [
        *digits_found(cells, until=until),
        *exchanged_found(_backwards(uuids), until=until),
        *after_failed_found(cells, until=until),
    ]
    # What a rule says at once is not said again by comparing.
    said = {(one.subject_kind, one.subject_id, one.measure) for one in by_rule}
    compared = episodes_found(evaluated, cells, catalogue(), clinic_uuids=uuids, until=until)
    rest = [one for one in compared if (one.subject_kind, one.subject_id, one.measure) not in said]
    return [*by_rule, *rest, *drift_found(drifts, until=until)]


def _backwards(uuids: dict[int, UUID]) -> list[Backwards]:
    rows = StandOut.objects.filter(clinic_id__in=list(uuids), negative_peaks__gte=3)
    return [
        Backwards(clinic_id, uuids[clinic_id], tester, day)
        for clinic_id, tester, day in rows.order_by("visit_date", "visit_id").values_list(
            "clinic_id", "tester_id", "visit_date"
        )
    ]


def _store(
    network: Network,
    clinics: Sequence[Clinic],
    cells: CellTable,
    evaluated: NetworkEvaluated,
    covers_until: date,
    at: datetime,
) -> Build:
    build = Build.objects.create(
        network=network,
        covers_until=covers_until,
        built_at=at,
        scores_version=SCORES_VERSION,
        engine_version=ENGINE_VERSION,
        testers=len(evaluated.testers.tallies.testers),
        clinics=len(clinics),
        visits=int(cells.visits.sum()),
        tests_made=sum(build.tests for build in evaluated.testers.evaluation.builds[-1:]),
        parameters={
            "tester": parameters_json(evaluated.testers.evaluation),
            "irrigator": parameters_json(evaluated.irrigators.evaluation),
            "clinic": parameters_json(evaluated.clinics.evaluation),
            "clinics_by_measure": _clinics_by_measure(cells),
        },
    )
    NetworkState.objects.update_or_create(
        network=network, defaults={"built_at": at, "covers_until": covers_until}
    )
    return build


def parameters_json(evaluation: Evaluation) -> dict[str, Any]:
    """The last build's parameters by measure, as plain numbers."""
    if not evaluation.builds:
        return {}
    return {
        one.measure: {
            "sigma2": one.sigma2,
            "tau2": one.tau2,
            "omega2": {str(window): value for window, value in one.omega2.items()},
            "centre": one.centre,
        }
        for one in evaluation.builds[-1].parameters
    }


def _clinics_by_measure(cells: CellTable) -> dict[str, int]:
    """How many clinics each measure has visits from: a comparison needs three others."""
    return {
        measure.id: len(set(cells.clinics[cells.n[at] > 0].tolist()))
        for at, measure in enumerate(catalogue().scored)
    }


def _store_compared(clinics: Sequence[Clinic], evaluated: NetworkEvaluated, build: Build) -> None:
    uuids = {clinic.pk: clinic.public_id for clinic in clinics}
    rows = {
        (row.clinic_id, row.subject_kind, row.subject_id): row
        for row in SubjectSummary.objects.filter(clinic_id__in=list(uuids))
    }
    changed, fresh = [], []
    for kind, of in (
        ("tester", evaluated.testers),
        ("irrigator", evaluated.irrigators),
        ("clinic", evaluated.clinics),
    ):
        compared = compared_of(of)
        for subject, clinic_id in zip(of.tallies.testers, of.tallies.clinics.tolist(), strict=True):
            subject_id = uuids[clinic_id] if kind == "clinic" else UUID(str(subject))
            row = rows.get((clinic_id, kind, subject_id))
            if row is None:
                row = SubjectSummary(clinic_id=clinic_id, subject_kind=kind, subject_id=subject_id)
                fresh.append(row)
            else:
                changed.append(row)
            row.compared, row.build_id = compared[subject], build.pk
    SubjectSummary.objects.bulk_create(fresh)
    for row in changed:
        SubjectSummary.objects.filter(
            clinic_id=row.clinic_id, subject_kind=row.subject_kind, subject_id=row.subject_id
        ).update(compared=row.compared, build_id=row.build_id)
