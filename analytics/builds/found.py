"""Episodes of an evaluation as signals: one a subject and measure, with its figures."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any
from uuid import UUID

import numpy as np

from analytics.builds.context import Contexts, last_beyond
from analytics.builds.evaluate import Evaluated, NetworkEvaluated
from analytics.detection.evaluation import Episode
from analytics.measures import Catalogue
from analytics.rollups.merge import CellTable
from analytics.signals.found import Cluster, Found, clusters


def episodes_found(
    evaluated: NetworkEvaluated,
    cells: CellTable,
    catalogue: Catalogue,
    *,
    clinic_uuids: Mapping[int, UUID],
    until: date,
) -> list[Found]:
    """The episodes of testers, irrigators and clinics, each with what else moved."""
    contexts = Contexts(
        cells, catalogue, evaluated.irrigators.evaluation, evaluated.clinics.evaluation
    )
    found = []
    for kind, of in (
        ("tester", evaluated.testers),
        ("irrigator", evaluated.irrigators),
        ("clinic", evaluated.clinics),
    ):
        clinic_of = dict(zip(of.tallies.testers, of.tallies.clinics.tolist(), strict=True))
        for cluster in clusters(of.evaluation.episodes):
            subject = cluster.told_by.subject
            clinic_id = clinic_of[subject]
            context = contexts.of_tester(cluster.told_by, clinic_id) if kind == "tester" else {}
            subject_id = clinic_uuids[clinic_id] if kind == "clinic" else UUID(str(subject))
            one = _found(cluster, of, kind, clinic_id, subject_id, until=until)
            one.evidence.update({"context": context} if context else {})
            found.append(one)
    return found


def _found(
    cluster: Cluster, of: Evaluated, kind: str, clinic_id: int, subject_id: UUID, *, until: date
) -> Found:
    told_by = cluster.told_by
    return Found(
        clinic_id=clinic_id,
        subject_kind=kind,
        subject_id=subject_id,
        measure=told_by.measure,
        channel=told_by.channel,
        tier=told_by.tier,
        direction=told_by.direction,
        opened=cluster.opened,
        closed=cluster.closed,
        since=min(told_by.since, cluster.opened),
        last_beyond=max(
            last_beyond(one, until=until, beyond_now=_beyond_now(one, of))
            for one in cluster.episodes
        ),
        distance=told_by.z,
        evidence=evidence_of(told_by),
    )


def evidence_of(episode: Episode) -> dict[str, Any]:
    """The figures of an episode at its opening, as plain numbers and dates."""
    return {
        "visits": episode.visits,
        "past_visits": episode.past_visits,
        "window_months": episode.window,
        "value": episode.value,
        "expected": episode.expected,
        "difference": episode.difference,
        "standard_error": episode.standard_error,
        "low": episode.low,
        "high": episode.high,
        "p": episode.p,
        "q": episode.q,
        "since": episode.since.isoformat(),
        "told_in": episode.opened.isoformat(),
        "past_from": episode.past_from.isoformat() if episode.past_from else None,
        "past_until": episode.past_until.isoformat() if episode.past_until else None,
    }


def _beyond_now(episode: Episode, of: Evaluated) -> bool:
    """Whether the last build still finds it further than two standard errors away."""
    evaluation = of.evaluation
    measure = evaluation.measures.index(episode.measure)
    subject = evaluation.testers.index(episode.subject)
    table = evaluation.table
    if episode.channel == "level":
        z = table.z_level[measure, subject]
    else:
        window = evaluation.windows.index(episode.window)
        z = table.z_change[window, measure, subject]
    return bool(np.isfinite(z) and abs(z) >= 2.0)
