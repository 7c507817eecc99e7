"""Temperature checks of irrigators' months, as sums."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Final
from uuid import UUID

from django.db import connection

from analytics.models import CheckCell

IrrigatorMonth = tuple[UUID, date]

# The month is the clinic's own: a reading just before midnight belongs to that day there.
_INSERT: Final = """
INSERT INTO analytics_checkcell (
    clinic_id, id, month, irrigator_id, thermometer_id, stimulus,
    readings, within, s, ss, computed_at
)
SELECT
    c.clinic_id, gen_random_uuid(), key.month, c.irrigator_id, c.thermometer_id, c.stimulus,
    count(*), count(*) FILTER (WHERE c.within_tolerance),
    sum(c.reading_c - c.set_temperature_c), sum((c.reading_c - c.set_temperature_c) ^ 2), %(at)s
FROM unnest(%(irrigators)s::uuid[], %(months)s::date[]) AS key (irrigator_id, month)
JOIN registry_temperaturecheck c
    ON c.clinic_id = %(clinic)s AND c.irrigator_id = key.irrigator_id
    AND c.withdrawn_at IS NULL AND c.phase IS DISTINCT FROM 'as_left'
    AND (c.checked_at AT TIME ZONE %(zone)s)::date >= key.month
    AND (c.checked_at AT TIME ZONE %(zone)s)::date < key.month + interval '1 month'
GROUP BY c.clinic_id, key.month, c.irrigator_id, c.thermometer_id, c.stimulus
"""


def check_cells_replace(
    clinic_id: int, keys: Sequence[IrrigatorMonth], *, zone: str, at: datetime
) -> None:
    """Make the sums of these irrigators' months anew from the readings as found."""
    for irrigator_id in {irrigator for irrigator, _ in keys}:
        months = [month for irrigator, month in keys if irrigator == irrigator_id]
        CheckCell.objects.filter(
            clinic_id=clinic_id, irrigator_id=irrigator_id, month__in=months
        ).delete()
    with connection.cursor() as cursor:
        cursor.execute(
            _INSERT,
            {
                "clinic": clinic_id,
                "irrigators": [irrigator for irrigator, _ in keys],
                "months": [month for _, month in keys],
                "zone": zone,
                "at": at,
            },
        )
