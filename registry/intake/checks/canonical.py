"""One way to write a visit down, so that equal visits have equal bytes."""

from __future__ import annotations

import hashlib
import json
from dataclasses import fields
from datetime import UTC, date, datetime
from typing import Any, Final

from registry.caloric.visit import (
    Background,
    Beats,
    Irrigation,
    Otoscopy,
    Recording,
    Reported,
    Spontaneous,
    Visit,
)

Json = dict[str, Any]

_NAMES: Final = {
    kind: tuple(field.name for field in fields(kind))
    for kind in (
        Visit,
        Irrigation,
        Spontaneous,
        Otoscopy,
        Background,
        Recording,
        Reported,
        Beats,
    )
}
_PLAIN: Final = frozenset({str, float, int, bool})
_NOT_SENT_BY_CLINICS: Final = "from_clinic_default"


def visit_to_json(visit: Visit) -> Json:
    """The visit as clinics send it; ``check_visit`` of it gives the visit back.

    What is absent is left out. Which values came from the clinic's defaults is no part of a
    visit as sent, so it is left out too.
    """
    written: Json = _written(visit)
    written.pop(_NOT_SENT_BY_CLINICS, None)
    return written


def content_digest(visit: Visit) -> bytes:
    """SHA-256 of what was sent: the same by JSON, CSV or XLSX, in any order of irrigations.

    Values from the clinic's defaults are left out, so a clinic that changes a default and sends
    an old file again is not told that its old results changed.
    """
    sent = visit_to_json(visit)
    for pointer in visit.from_clinic_default:
        _remove(sent, pointer.split("/")[1:])
    sent["irrigations"].sort(key=lambda one: (one["ear"], one["stimulus"], one["attempt"]))
    text = json.dumps(sent, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode("ascii")).digest()


def _written(value: Any) -> Any:
    if type(value) in _PLAIN:
        return value
    names = _NAMES.get(type(value))
    if names is not None:
        members = ((name, getattr(value, name)) for name in names)
        return {
            name: member if type(member) in _PLAIN else _written(member)
            for name, member in members
            if member is not None and member != ()
        }
    if isinstance(value, tuple):
        return [_written(item) for item in value]
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
    return value.isoformat() if isinstance(value, date) else value


def _remove(sent: Json, path: list[str]) -> None:
    *parents, name = path
    holder: Any = sent
    for step in parents:
        holder = holder[int(step)] if isinstance(holder, list) else holder[step]
    # Attempt is what the order above reads; a default cannot give it, for it is never absent.
    holder.pop(name, None)
