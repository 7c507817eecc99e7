"""Repeat tests of one person over the network: error of measurement by tester kept apart."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from analytics.dashboards.disclosure import SMALLEST_CELL
from analytics.dashboards.figures.agreement import differences, errors
from analytics.dashboards.figures.style import Json
from analytics.models import RetestPair
from analytics.statistics.agreement import limits_of_agreement
from analytics.statistics.intraclass import ONE_WAY, intraclass_correlation
from analytics.statistics.repeatability import ErrorsApart, errors_apart

Floats = NDArray[np.float64]

SAME, OTHER = "same_tester", "other_tester"
_WHO = {SAME: "by the same tester", OTHER: "by two testers"}


def retests_for_lead(pairs: Sequence[RetestPair]) -> Json:
    """Differences with limits of agreement by kind of pair, and the errors of measurement."""
    groups = {
        SAME: [one for one in pairs if one.tester_id == one.earlier_tester_id],
        OTHER: [one for one in pairs if one.tester_id != one.earlier_tester_id],
    }
    figures = {}
    facts: Json = {}
    for kind, group in groups.items():
        facts[kind] = {"pairs": len(group)}
        if len(group) >= SMALLEST_CELL:
            figures[kind] = _differences(group, kind)
            facts[kind] |= _correlation(group)
    if len(pairs) >= SMALLEST_CELL:
        figures["errors"] = _errors(_apart(pairs))
    return {"figures": figures, "facts": facts}


def _differences(group: Sequence[RetestPair], kind: str) -> Json:
    earlier, later = _values(group)
    return differences(
        earlier,
        later,
        limits_of_agreement(later, earlier),
        title=f"Two tests of one person, {_WHO[kind]}",
        who=_WHO[kind],
    )


def _correlation(group: Sequence[RetestPair]) -> Json:
    """Intraclass correlation of single results; pairs of persons, so judges are not crossed."""
    found = intraclass_correlation(np.column_stack(_values(group))).coefficient(ONE_WAY)
    if found is None or found.value is None:
        return {"intraclass": None}
    ends = [None if one is None else round(one, 3) for one in (found.low, found.high)]
    return {
        "intraclass": round(found.value, 3),
        "intraclass_low": ends[0],
        "intraclass_high": ends[1],
    }


def _values(group: Sequence[RetestPair]) -> tuple[Floats, Floats]:
    return (
        np.array([one.earlier_weakness for one in group], dtype=np.float64),
        np.array([one.weakness for one in group], dtype=np.float64),
    )


def _apart(pairs: Sequence[RetestPair]) -> ErrorsApart:
    """Every result once: the later of one pair may be the earlier of the next."""
    results = {}
    for one in pairs:
        results[one.earlier_visit_id] = (
            one.earlier_weakness,
            one.subject_id,
            one.earlier_tester_id,
        )
        results[one.visit_id] = (one.weakness, one.subject_id, one.tester_id)
    values, subjects, testers = zip(*results.values(), strict=True)
    return errors_apart(values, [str(one) for one in subjects], [str(one) for one in testers])


def _errors(found: ErrorsApart) -> Json:
    return errors([("The same tester", found.same_tester), ("Any tester", found.any_tester)])
