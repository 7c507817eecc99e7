"""The versions of a visit that were superseded, put together again from the kept rows."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from typing import Any
from uuid import UUID

from registry.access.requests import Access
from registry.models import RowVersion
from registry.reading.visits import visit_get

_WHOLE = ("registry_visit", "registry_irrigation", "registry_visitresult")
# Binary columns and keys say nothing to a reader.
_LEFT_OUT = ("clinic_id", "visit_id", "content_digest")


def visit_versions(access: Access, visit_id: UUID) -> list[dict[str, Any]]:
    """What the visit was before each change, newest first, as the columns stood.

    All rows superseded by one transaction carry its time, which is how they find together.

    :raises VisitNotFound: if there is no such visit for this reader.
    """
    visit = visit_get(access, visit_id)
    kept: dict[datetime, dict[str, list[dict[str, Any]]]] = defaultdict(lambda: defaultdict(list))
    who: dict[datetime, str] = {}
    rows = RowVersion.objects.filter(
        clinic_id=visit.clinic_id, visit_id=visit_id, table_name__in=_WHOLE
    ).order_by("-superseded_at", "id")
    for row in rows:
        kept[row.superseded_at][row.table_name].append(_shown(row.content))
        who[row.superseded_at] = row.superseded_by
    return [_version(moment, who[moment], tables) for moment, tables in kept.items()]


def _version(moment: datetime, by: str, tables: dict[str, list[dict[str, Any]]]) -> dict[str, Any]:
    visit = next(iter(tables["registry_visit"]), {})
    return {
        "version": visit.get("version"),
        "superseded_at": moment.isoformat().replace("+00:00", "Z"),
        "superseded_by": by,
        "amendment_reason": visit.get("amendment_reason"),
        "visit": visit,
        "irrigations": tables["registry_irrigation"],
        "result": next(iter(tables["registry_visitresult"]), None),
    }


def _shown(content: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in content.items() if name not in _LEFT_OUT}
