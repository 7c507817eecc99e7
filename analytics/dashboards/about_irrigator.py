"""One irrigator: its readings over time, and level and warm against cool by month."""

from __future__ import annotations

from typing import Final
from uuid import UUID

from analytics.dashboards.about_subject import Reader, measure_months
from analytics.dashboards.figures.drift import drift
from analytics.dashboards.figures.style import Json
from analytics.dashboards.sources import Source

# What the delivered temperature moves.
MOVED_BY_IT: Final = frozenset({"response_level", "warm_cool_ratio"})


def irrigator_content(source: Source, irrigator: UUID, clinic_id: int) -> Json:
    """Readings by stimulus from its summary, and its months."""
    row = source.summaries.get(("irrigator", irrigator))
    drifts = (row.figures.get("drift") or []) if row else []
    events = source.events.get(irrigator, [])
    figures = {f"drift_{one['stimulus']}": drift(one, events) for one in drifts}
    figures |= measure_months(
        source.irrigators,
        irrigator,
        clinic_id=clinic_id,
        compared=source.compared("irrigator", irrigator),
        reader=Reader(small_shown=False),
        only=MOVED_BY_IT,
    )
    facts = {
        "irrigator": source.irrigator_codes.get(irrigator),
        "clinic": source.clinics[clinic_id].code,
    }
    return {"figures": figures, "facts": facts}
