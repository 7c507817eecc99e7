"""The audit trail: one row in the transaction of the deed it tells of."""

from __future__ import annotations

import json
from datetime import datetime

from django.db import connection

from registry.access.scope import Actor


def record(
    action: str,
    *,
    by: Actor,
    at: datetime,
    clinic_id: int | None,
    object_kind: str,
    object_id: object,
    detail: dict[str, object] | None = None,
) -> None:
    """Add an event. ``detail`` holds names of fields and counts, never a value from a visit.

    Written by plain SQL: an ``INSERT`` that reads its row back needs the right to read it,
    and an event without a clinic, or of another one, may be added but not read.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO registry_auditevent (at, clinic_id, actor, role, request_id, action,"
            " object_kind, object_id, detail) VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s)",
            [
                at,
                clinic_id,
                by.name,
                by.role,
                by.request_id,
                action,
                object_kind,
                str(object_id),
                json.dumps(detail or {}),
            ],
        )
