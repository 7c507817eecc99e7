"""Look-backs as the JSON bodies that readers get, whole or reduced."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from analytics.look_backs.decide import look_back_visits
from analytics.models import LookBack, LookBackVisit
from analytics.summaries.codes import clinic_codes, codes_of
from registry.models import Irrigator

Body = dict[str, Any]

_MOMENTS: Final = ("last_good_at", "checked_at", "until_at", "opened_at")
_COUNTS: Final = ("visit_count", "changed_count", "undecided_count")
_OF_VISIT: Final = (
    "as_sent",
    "at_worst",
    "changed",
    "weakness_low",
    "weakness_high",
    "preponderance_low",
    "preponderance_high",
    "decision",
)


def look_backs_json(rows: Sequence[LookBack], *, reduced: bool) -> list[Body]:
    """These look-backs in their order; ``reduced`` with the month for every day and hour.

    The hours of the checks bound the days of the visits between them, so they go as well.
    """
    clinic_ids = {row.clinic_id for row in rows}
    clinics = clinic_codes(clinic_ids)
    irrigators = codes_of(Irrigator, clinic_ids, (row.irrigator_id for row in rows))
    return [
        {
            "id": str(row.id),
            "clinic": clinics[row.clinic_id],
            "irrigator": {"id": str(row.irrigator_id), "code": irrigators[row.irrigator_id]},
            "stimulus": row.stimulus,
            "set_temperature_c": row.set_temperature_c,
            "deviation_c": row.deviation_c,
            "tolerance_c": row.tolerance_c,
            "checked_month": row.checked_at.strftime("%Y-%m"),
            **{name: None if reduced else getattr(row, name) for name in _MOMENTS},
            **{name: getattr(row, name) for name in _COUNTS},
        }
        for row in rows
    ]


def look_back_json(row: LookBack, *, reduced: bool) -> Body:
    """One look-back with its visits."""
    visits = [look_back_visit_json(one, reduced=reduced) for one in look_back_visits(row)]
    return look_backs_json([row], reduced=reduced)[0] | {"visits": visits}


def look_back_visit_json(row: LookBackVisit, *, reduced: bool) -> Body:
    return {
        "id": str(row.visit_id),
        "month": row.month.strftime("%Y-%m"),
        "visit_date": None if reduced else row.visit_date,
        **{name: getattr(row, name) for name in _OF_VISIT},
        "decided_at": None if reduced else row.decided_at,
    }
