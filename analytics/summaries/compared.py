"""How a subject compares: the part of its figures that a build makes, kept until the next."""

from __future__ import annotations

from typing import Any

import numpy as np

from analytics.builds.evaluate import Evaluated
from analytics.detection.evaluation import PLEASE_REVIEW, Evaluation


def compared_of(of: Evaluated) -> dict[object, dict[str, Any]]:
    """By subject: for each measure where the network is, how far off, and what could be seen.

    ``expected`` and ``shrunken`` in the unit of the measure; ``z_level`` and ``z_change`` (by
    months of the window) in standard errors; ``smallest_level`` and ``smallest_change`` the
    smallest difference that these visits could have shown with a chance of 80 %.
    """
    evaluation = of.evaluation
    tiers = _tiers(evaluation)
    return {
        subject: {
            measure: _one(evaluation, at, place, tiers.get((subject, measure)))
            for at, measure in enumerate(evaluation.measures)
        }
        for place, subject in enumerate(evaluation.testers)
    }


def _tiers(evaluation: Evaluation) -> dict[tuple[object, str], str]:
    """The tier of what is open now."""
    found: dict[tuple[object, str], str] = {}
    for one in evaluation.episodes:
        key = (one.subject, one.measure)
        if one.closed is None and found.get(key) != PLEASE_REVIEW:
            found[key] = one.tier
    return found


def _one(evaluation: Evaluation, at: int, place: int, tier: str | None) -> dict[str, Any]:
    table = evaluation.table
    change = {
        str(window): _number(table.z_change[number, at, place])
        for number, window in enumerate(evaluation.windows)
    }
    smallest = {
        str(window): _number(table.smallest_change[number, at, place])
        for number, window in enumerate(evaluation.windows)
    }
    return {
        "n": float(table.n[at, place]),
        "value": _number(table.value[at, place]),
        "expected": _number(table.expected[at, place]),
        "shrunken": _number(table.shrunken[at, place]),
        "z_level": _number(table.z_level[at, place]),
        "z_change": change,
        "smallest_level": _number(table.smallest_level[at, place]),
        "smallest_change": smallest,
        "reason": str(table.reason[at, place]) or None,
        "reason_change": str(table.reason_change[at, place]) or None,
        "tier": tier,
    }


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
