"""The versions of a visit that were superseded, put together again from the kept rows."""

from __future__ import annotations

import json
from datetime import datetime
from itertools import groupby
from typing import Any
from uuid import UUID

from django.db import connection

from registry.access.requests import Access
from registry.models import RowVersion
from registry.reading.visits import visit_get

_VISIT, _IRRIGATION, _RESULT = "registry_visit", "registry_irrigation", "registry_visitresult"
# Binary columns and keys say nothing to a reader.
_LEFT_OUT = ("clinic_id", "visit_id", "content_digest")
_AS_IT_STANDS = """
SELECT 'registry_visit', to_jsonb(one) FROM registry_visit one
    WHERE clinic_id = %(clinic)s AND id = %(visit)s
UNION ALL SELECT 'registry_irrigation', to_jsonb(one) FROM registry_irrigation one
    WHERE clinic_id = %(clinic)s AND visit_id = %(visit)s
UNION ALL SELECT 'registry_visitresult', to_jsonb(one) FROM registry_visitresult one
    WHERE clinic_id = %(clinic)s AND visit_id = %(visit)s
"""

Content = dict[str, Any]
Tables = dict[str, list[Content]]


def visit_versions(access: Access, visit_id: UUID) -> list[dict[str, Any]]:
    """What the visit was before each change, newest first, each version whole.

    Only what a change replaced was kept: a withdrawal leaves the irrigations alone, a new
    computation most of them. So the versions are walked back from the visit as it stands. All
    rows superseded by one transaction carry its time, which is how they find together.

    :raises VisitNotFound: if there is no such visit for this reader.
    """
    visit = visit_get(access, visit_id)
    tables = _as_it_stands(visit.clinic_id, visit_id)
    # By id, which is given under the visit's lock: a transaction that had to wait for that lock
    # bears an earlier time than the one it waited for.
    kept = RowVersion.objects.filter(
        clinic_id=visit.clinic_id, visit_id=visit_id, table_name__in=(_VISIT, _IRRIGATION, _RESULT)
    ).order_by("-id")
    versions = []
    for moment, group in groupby(kept, key=lambda row: row.superseded_at):
        rows = list(group)
        for table in tables:
            tables[table] = _before(tables[table], [row for row in rows if row.table_name == table])
        versions.append(_version(moment, rows[0].superseded_by, tables))
    return versions


def _as_it_stands(clinic_id: int, visit_id: UUID) -> Tables:
    """The current rows, written as the triggers write superseded ones."""
    tables: Tables = {_VISIT: [], _IRRIGATION: [], _RESULT: []}
    with connection.cursor() as cursor:
        cursor.execute(_AS_IT_STANDS, {"clinic": clinic_id, "visit": visit_id})
        for table, content in cursor.fetchall():
            tables[table].append(json.loads(content))
    return tables


def _before(after: list[Content], superseded: list[RowVersion]) -> list[Content]:
    """The rows of a table before a change, from those after it and what it replaced."""
    deleted = [row.content for row in superseded if row.operation == "DELETE"]
    if deleted:
        # An amendment deletes all rows of the table and inserts new ones.
        return deleted
    before = {_key(content): content for content in after}
    # Latest first, so that of a row changed twice its first state remains.
    return list((before | {_key(row.content): row.content for row in superseded}).values())


def _key(content: Content) -> tuple[Any, ...]:
    return tuple(content.get(name) for name in ("ear", "stimulus", "attempt"))


def _version(moment: datetime, by: str, tables: Tables) -> dict[str, Any]:
    visit = _shown(tables[_VISIT][0])
    irrigations = sorted(tables[_IRRIGATION], key=lambda one: one["position_in_visit"])
    return {
        "version": visit["version"],
        "superseded_at": moment.isoformat().replace("+00:00", "Z"),
        "superseded_by": by,
        "amendment_reason": visit["amendment_reason"],
        "visit": visit,
        "irrigations": [_shown(one) for one in irrigations],
        "result": next((_shown(one) for one in tables[_RESULT]), None),
    }


def _shown(content: Content) -> Content:
    return {name: value for name, value in content.items() if name not in _LEFT_OUT}
