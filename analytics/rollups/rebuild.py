"""All sums of a clinic made anew: every tester's and irrigator's month is marked as changed."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Final

from django.db import connection
from django.db.models.functions import TruncMonth

from analytics.rollups.facts import FactRows, read_facts
from analytics.rollups.pairs import pairs_replace_all
from analytics.rollups.refresh import WORKER, refresh_alone
from registry.access.scope import clinic_scope
from registry.models import Visit

_MARK: Final = """
INSERT INTO registry_changedkey (clinic_id, subject_of_change, key_id, month, changed_at)
SELECT DISTINCT clinic_id, kind, id, date_trunc('month', day::timestamp)::date, %(at)s
FROM (
    SELECT clinic_id, 'tester' AS kind, tester_id AS id, visit_date AS day
    FROM registry_visit WHERE clinic_id = %(clinic)s
    UNION ALL
    SELECT i.clinic_id, 'tester', i.tester_id, v.visit_date
    FROM registry_irrigation i
    JOIN registry_visit v ON v.clinic_id = i.clinic_id AND v.id = i.visit_id
    WHERE i.clinic_id = %(clinic)s AND i.tester_id IS NOT NULL
    UNION ALL
    SELECT c.clinic_id, 'irrigator', c.irrigator_id, (c.checked_at AT TIME ZONE k.time_zone)::date
    FROM registry_temperaturecheck c JOIN registry_clinic k ON k.id = c.clinic_id
    WHERE c.clinic_id = %(clinic)s
    UNION ALL
    SELECT clinic_id, 'tester', tester_id, month FROM analytics_cell WHERE clinic_id = %(clinic)s
    UNION ALL
    SELECT clinic_id, 'irrigator', irrigator_id, month
    FROM analytics_checkcell WHERE clinic_id = %(clinic)s
) AS everything
ORDER BY 1, 2, 3, 4
"""


# Visits read at once when all of a clinic's are: months of testers, about 25 visits each.
_KEYS_AT_ONCE: Final = 400


def clinic_all_facts(clinic_id: int) -> Iterator[FactRows]:
    """Every visit in force of a clinic, some testers' months at a time, in the open scope."""
    visits = Visit.objects.filter(clinic_id=clinic_id, withdrawn_at=None)
    keys = sorted(
        visits.annotate(month=TruncMonth("visit_date"))
        .values_list("tester_id", "month")
        .distinct(),
        key=str,
    )
    for start in range(0, len(keys), _KEYS_AT_ONCE):
        yield read_facts(clinic_id, keys[start : start + _KEYS_AT_ONCE])


def clinic_mark_all(clinic_id: int, *, at: datetime) -> None:
    """Mark everything of a clinic as changed; the refresh then makes it anew, chunk by chunk.

    The sums stay until their turn comes, so that an evaluation meanwhile sees no empty clinic;
    those whose visits are all gone are marked too.
    """
    with clinic_scope([clinic_id], by=WORKER):
        refresh_alone(clinic_id)
        pairs_replace_all(clinic_id)
        with connection.cursor() as cursor:
            cursor.execute(_MARK, {"clinic": clinic_id, "at": at})
