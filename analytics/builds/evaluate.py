"""Testers first, then irrigators and clinics without what one tester alone explains."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

import numpy as np

from analytics.detection.engine import evaluate
from analytics.detection.evaluation import PLEASE_REVIEW, Evaluation
from analytics.detection.policy import FOR_CLINICS
from analytics.detection.tallies import Tallies, by_clinic
from analytics.measures import Catalogue
from analytics.rollups.merge import CellTable, tallies_of

# A dozen clinics tell too little about how clinics differ for a difference to be put up.
CLINIC_POLICY: Final = replace(FOR_CLINICS, few_testers=20)


@dataclass(frozen=True, slots=True)
class Evaluated:
    """The sums of one kind of subject and what the replay over them gave."""

    tallies: Tallies
    evaluation: Evaluation


@dataclass(frozen=True, slots=True)
class NetworkEvaluated:
    testers: Evaluated
    irrigators: Evaluated
    clinics: Evaluated


def network_evaluate(cells: CellTable, catalogue: Catalogue, *, until: date) -> NetworkEvaluated:
    """Replay the months of a network for its testers, irrigators and clinics.

    A tester under review for a measure is left out of that measure's sums of irrigators and
    clinics: else everybody they work with would be marked for what one hand explains.
    """
    testers = tallies_of(cells, "tester", until=until)
    of_testers = Evaluated(testers, evaluate(testers, catalogue))
    rest = _without(cells, under_review(of_testers.evaluation), catalogue)
    irrigators = tallies_of(rest, "irrigator", until=until)
    clinics = _of_measures(
        by_clinic(tallies_of(rest, "tester", until=until)),
        {measure.id for measure in catalogue.of("clinic")},
    )
    return NetworkEvaluated(
        testers=of_testers,
        irrigators=Evaluated(irrigators, evaluate(irrigators, catalogue, policy=CLINIC_POLICY)),
        clinics=Evaluated(clinics, evaluate(clinics, catalogue, policy=CLINIC_POLICY)),
    )


def under_review(evaluation: Evaluation) -> set[tuple[str, object]]:
    """Measure and tester of every episode that asked for a review."""
    return {(one.measure, one.subject) for one in evaluation.episodes if one.tier == PLEASE_REVIEW}


def _without(
    cells: CellTable, left_out: Iterable[tuple[str, object]], catalogue: Catalogue
) -> CellTable:
    """The cells with some testers' sums of some measures taken out."""
    n, s, ss, expected = (one.copy() for one in (cells.n, cells.s, cells.ss, cells.expected))
    order = [measure.id for measure in catalogue.scored]
    testers = np.array([str(one) for one in cells.testers])
    for measure, tester in left_out:
        theirs = testers == str(tester)
        for sums in (n, s, ss, expected):
            sums[order.index(measure), theirs] = 0.0
    return replace(cells, n=n, s=s, ss=ss, expected=expected)


def _of_measures(tallies: Tallies, wanted: set[str]) -> Tallies:
    keep = [at for at, measure in enumerate(tallies.measures) if measure in wanted]
    return replace(
        tallies,
        measures=tuple(tallies.measures[at] for at in keep),
        n=tallies.n[keep],
        s=tallies.s[keep],
        ss=tallies.ss[keep],
    )
