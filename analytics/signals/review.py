"""What people say to a signal: the tester's reply first, then a review by who leads."""

from __future__ import annotations

from datetime import date, datetime, tzinfo
from typing import Any, Final

from django.db import transaction
from django.db.models import F

from analytics.models import Signal, SignalEntry
from analytics.models.signal import ACTIONS, CAUSES, STATES
from registry.access import audit
from registry.access.scope import Actor
from registry.intake.faults import Fault
from registry.intake.fields import Field
from registry.roster.body import RosterRefused, Values, read_new

REVIEW_FIELDS: Final = (
    Field("state", "word", "What came of it.", words=STATES, needed=True),
    Field("cause", "word", "What explains it, as far as known.", words=CAUSES),
    Field("action", "word", "What was done or agreed.", words=ACTIONS),
    Field("due_on", "date", "Day from which the effect is looked at, written YYYY-MM-DD."),
    Field("note", "note", "A sentence without names, up to 500 characters; never exported."),
)
REPLY_FIELDS: Final = (
    Field("note", "note", "The tester's own words, up to 500 characters.", needed=True),
)


class SignalChanged(Exception):
    """It was changed since it was read: read it again."""


@transaction.atomic
def signal_review(
    signal: Signal, data: object, *, if_version: int, zone: tzinfo, by: Actor, at: datetime
) -> Signal:
    """Put a review on a signal and keep it beside those before it.

    :raises RosterRefused: with everything that is wrong with ``data``.
    :raises SignalChanged: when ``if_version`` is no longer the signal's version.
    """
    values = read_new(data, REVIEW_FIELDS, zone=zone)
    _check_review(values, today=at.astimezone(zone).date())
    asked = {name: values[name] for name in ("state", "cause", "action", "due_on")}
    rows = Signal.objects.filter(clinic_id=signal.clinic_id, id=signal.id, version=if_version)
    changed = rows.update(**asked, effect=None, effect_checked_on=None, version=F("version") + 1)
    if changed != 1:
        raise SignalChanged
    _keep(signal, "review", values, by=by, at=at)
    _record("signal.reviewed", signal, by=by, at=at, state=values["state"])
    return _again(signal)


@transaction.atomic
def signal_reply(signal: Signal, data: object, *, zone: tzinfo, by: Actor, at: datetime) -> Signal:
    """Put the tester's own words beside a signal; from then on leads see it too.

    :raises RosterRefused: if the note is missing, too long, or may name somebody.
    """
    values = read_new(data, REPLY_FIELDS, zone=zone)
    if not values["note"]:
        raise RosterRefused([Fault("/note", "note_empty")])
    row = Signal.objects.select_for_update().get(clinic_id=signal.clinic_id, id=signal.id)
    row.leads_from = min(row.leads_from, at)
    row.seen_by_tester_at = row.seen_by_tester_at or at
    row.version += 1
    row.save(update_fields=["leads_from", "seen_by_tester_at", "version"])
    _keep(signal, "reply", values, by=by, at=at)
    _record("signal.replied", signal, by=by, at=at)
    return _again(signal)


def signal_seen(signal: Signal, *, at: datetime) -> None:
    """Note the first time that the tester concerned read it; again: does nothing."""
    Signal.objects.filter(clinic_id=signal.clinic_id, id=signal.id, seen_by_tester_at=None).update(
        seen_by_tester_at=at
    )


def _check_review(values: Values, *, today: date) -> None:
    faults = []
    if values["state"] != "to_review" and values["cause"] is None:
        faults.append(Fault("/cause", "cause_needed"))
    if values["state"] == "acted_on" and values["action"] in (None, "none"):
        faults.append(Fault("/action", "action_needed"))
    if values["due_on"] is not None and values["due_on"] < today:
        faults.append(Fault("/due_on", "date_in_past"))
    if faults:
        raise RosterRefused(faults)


def _keep(signal: Signal, kind: str, values: Values, *, by: Actor, at: datetime) -> None:
    said: dict[str, Any] = {
        name: values.get(name) for name in ("state", "cause", "action", "due_on")
    }
    SignalEntry.objects.create(
        clinic_id=signal.clinic_id,
        signal_id=signal.id,
        kind=kind,
        note=values.get("note") or "",
        made_at=at,
        made_by=by.name,
        made_as=by.role,
        **said,
    )


def _again(signal: Signal) -> Signal:
    return Signal.objects.get(clinic_id=signal.clinic_id, id=signal.id)


def _record(action: str, signal: Signal, *, by: Actor, at: datetime, **detail: object) -> None:
    audit.record(
        action,
        by=by,
        at=at,
        clinic_id=signal.clinic_id,
        object_kind="signal",
        object_id=signal.id,
        detail=detail,
    )
