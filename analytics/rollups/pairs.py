"""Tests of one person within 90 days of each other, kept as pairs."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any, Final
from uuid import UUID

from django.db import connection

from analytics.rollups.facts import TesterMonth

_QUERY: Final = Path(__file__).with_name("pairs.sql")
_SUBJECTS: Final = """
SELECT DISTINCT v.subject_id
FROM unnest(%(testers)s::uuid[], %(months)s::date[]) AS key (tester_id, month)
JOIN registry_visit v
    ON v.clinic_id = %(clinic)s AND v.tester_id = key.tester_id
    AND v.visit_date >= key.month AND v.visit_date < key.month + interval '1 month'
"""


def pairs_replace(clinic_id: int, keys: Sequence[TesterMonth]) -> None:
    """Make the pairs anew of everybody seen in these months, withdrawn visits' people too.

    A visit's partner may lie in another month and belong to another tester: it is the person
    whose pairs are made anew.
    """
    parameters: dict[str, Any] = {
        "clinic": clinic_id,
        "testers": [tester for tester, _ in keys],
        "months": [month for _, month in keys],
    }
    with connection.cursor() as cursor:
        cursor.execute(_SUBJECTS, parameters)
        subjects = [row[0] for row in cursor.fetchall()]
    if subjects:
        _replace(clinic_id, subjects)


def pairs_replace_all(clinic_id: int) -> None:
    """Make all pairs of a clinic anew: after a removal nobody remembers whose visit it was."""
    _replace(clinic_id, None)


def _replace(clinic_id: int, subjects: list[UUID] | None) -> None:
    parameters: dict[str, Any] = {"clinic": clinic_id, "subjects": subjects}
    with connection.cursor() as cursor:
        cursor.execute(
            "DELETE FROM analytics_retestpair WHERE clinic_id = %(clinic)s"
            " AND (%(subjects)s::uuid[] IS NULL OR subject_id = ANY (%(subjects)s::uuid[]))",
            parameters,
        )
        cursor.execute(_query(), parameters)


@cache
def _query() -> str:
    return _QUERY.read_text()
