"""Assessments in words: what was compared, with which limit, from which source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from registry.pages.figures import SIGN_WORDS, percent_words, places_apart, rounded, total_words
from registry.pages.words import say

# Met by values under the limit; all others are met by values over it.
_MET_BELOW: Final = frozenset(
    {
        "low_total_response",
        "low_ear_total",
        "both_ear_totals_below_6",
        "both_ear_totals_below_25",
        "warm_screen_asymmetry",
    }
)
_RATIOS: Final = frozenset({"fixation_index_above_limit"})


@dataclass(frozen=True, slots=True)
class SaidAssessment:
    """An assessment ready to be read; empty text where there is nothing to say."""

    code: str
    title: str
    value: str
    limit: str
    source: str
    reason: str


def said_assessment(found: Mapping[str, Any]) -> SaidAssessment:
    """Words for one stored assessment."""
    criterion, reason = found.get("criterion"), found.get("reason")
    title = say("assessment", found["code"])
    if found["code"] == "undetermined":
        title = f"{title}: {say('criterion', criterion)}"
    return SaidAssessment(
        code=found["code"],
        title=title,
        value=_value(criterion, found.get("value"), found.get("limit")),
        limit=_limit(criterion, found.get("limit"), found.get("inclusive")),
        source=found.get("source") or "",
        reason=f"because {say('assessment_reason', reason)}" if reason else "",
    )


def _value(criterion: str | None, value: float | None, limit: float | None) -> str:
    if criterion is None or value is None:
        return ""
    edge = limit if limit is not None else value
    if criterion in SIGN_WORDS:
        return percent_words(criterion, value, places=places_apart(value, edge, places=0))
    if criterion in _RATIOS:
        return rounded(value, places_apart(value, edge, places=2))
    return total_words(value, places=places_apart(value, edge, places=1))


def _limit(criterion: str | None, limit: float | None, inclusive: object) -> str:
    if criterion is None or limit is None:
        return ""
    side = "below" if criterion in _MET_BELOW else "above"
    unit = " %" if criterion in SIGN_WORDS else "" if criterion in _RATIOS else " deg/s"
    edge = "at or " if inclusive else ""
    return f"met {edge}{side} {limit:g}{unit}"
