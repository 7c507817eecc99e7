"""Signals as the JSON bodies that readers get, with what was said to each."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Sequence
from datetime import date
from typing import Any

from analytics.measures import catalogue
from analytics.models import Signal, SignalEntry
from analytics.summaries.codes import codes_of
from registry.models import Clinic, Irrigator, Tester

Body = dict[str, Any]

_SAID = ("kind", "state", "cause", "action", "due_on", "effect", "note", "made_at", "made_as")
_PLAIN = (
    "measure",
    "channel",
    "tier",
    "direction",
    "opened_month",
    "opened_at",
    "since",
    "distance",
    "last_month_beyond",
    "back_within",
    "evidence",
    "state",
    "cause",
    "action",
    "due_on",
    "effect",
    "effect_checked_on",
    "version",
)


def signals_json(rows: Sequence[Signal]) -> list[Body]:
    """These signals in their order: the same few queries for any number.

    Who said something is told by the role it was said in, never by a name.
    """
    clinic_ids = {row.clinic_id for row in rows}
    clinics = Clinic.objects.in_bulk(clinic_ids)
    ids = {row.subject_id for row in rows}
    codes = codes_of(Tester, clinic_ids, ids) | codes_of(Irrigator, clinic_ids, ids)
    codes |= {clinic.public_id: clinic.code for clinic in clinics.values()}
    entries = _entries(rows)
    return [
        _signal(row, clinics[row.clinic_id].code, codes.get(row.subject_id, ""))
        | {"entries": entries.get((row.clinic_id, str(row.id)), [])}
        for row in rows
    ]


def signal_json(row: Signal) -> Body:
    return signals_json([row])[0]


def visits_behind(row: Signal, *, clinic: str, code: str) -> dict[str, str]:
    """The query of the list of visits that shows what a signal rests on: a link, no copy.

    The evidence is of the months up to the one that told; what a rule saw at once names no such
    month, and rests on all that it marked.
    """
    told_in = row.evidence.get("told_in")
    last = date.fromisoformat(told_in) if told_in else row.last_month_beyond
    whose = {} if row.subject_kind == "clinic" else {row.subject_kind: code}
    return {
        "clinic": clinic,
        **whose,
        "from": row.since.isoformat(),
        "to": last.replace(day=monthrange(last.year, last.month)[1]).isoformat(),
    }


def _signal(row: Signal, clinic: str, code: str) -> Body:
    return {
        "id": str(row.id),
        "subject": {
            "kind": row.subject_kind,
            "id": str(row.subject_id),
            "code": code,
            "clinic": clinic,
            "part": row.part,
        },
        "title": catalogue()[row.measure].title,
        **{name: getattr(row, name) for name in _PLAIN},
        "seen_by_tester": row.seen_by_tester_at is not None,
        "visits": visits_behind(row, clinic=clinic, code=code),
    }


def _entries(rows: Sequence[Signal]) -> dict[tuple[int, str], list[Body]]:
    """What was said to each signal, oldest first."""
    found: dict[tuple[int, str], list[Body]] = {}
    said = SignalEntry.objects.filter(
        clinic_id__in={row.clinic_id for row in rows}, signal_id__in=[row.id for row in rows]
    )
    for entry in said.order_by("made_at", "id"):
        body = {name: getattr(entry, name) for name in _SAID}
        found.setdefault((entry.clinic_id, str(entry.signal_id)), []).append(body)
    return found
