"""Signals kept in step with an evaluation: opened once, raised, closed, never rewritten."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any, Final
from uuid import UUID

from django.conf import settings

from analytics.models import Signal
from analytics.signals.found import Found
from registry.access import audit
from registry.access.scope import Actor
from registry.models import Membership

TIER_ORDER: Final = {"worth_a_look": 0, "please_review": 1}
# Raised when an evaluation would open other signals from the same sums.
ENGINE_VERSION: Final = 1

Key = tuple[int, str, str, str, str]


def signals_sync(
    clinic_ids: Sequence[int], found: Sequence[Found], *, month: date, by: Actor, at: datetime
) -> list[Signal]:
    """Open, raise and close signals of these clinics; the newly opened ones are returned.

    ``month`` is the last complete month. A signal whose episode is no longer found is closed in
    it: late results may change what was seen. The evidence of an open one stays as it was, unless
    the episode now asks for a review that it did not ask for before.
    """
    known = _known(clinic_ids)
    opened: list[Signal] = []
    matched: set[object] = set()
    for one in found:
        row = _matching(known.get(_key(one), []), one)
        if row is None:
            row = _open(one, by=by, at=at)
            known.setdefault(_key(one), []).append(row)
            opened.append(row)
        else:
            _follow(row, one, by=by, at=at)
        matched.add(row.id)
    for rows in known.values():
        for row in rows:
            if row.id not in matched and row.back_within is None:
                _close(row, month, by=by, at=at)
    return opened


def _known(clinic_ids: Sequence[int]) -> dict[Key, list[Signal]]:
    known: dict[Key, list[Signal]] = {}
    for row in Signal.objects.filter(clinic_id__in=clinic_ids).order_by("opened_month", "id"):
        known.setdefault(
            (row.clinic_id, row.subject_kind, str(row.subject_id), row.part, row.measure), []
        ).append(row)
    return known


def _key(one: Found) -> Key:
    return (one.clinic_id, one.subject_kind, str(one.subject_id), one.part, one.measure)


def _matching(rows: Sequence[Signal], one: Found) -> Signal | None:
    """The signal whose episode overlaps this one: late results may move an opening a little."""
    for row in rows:
        starts_before_end = one.closed is None or row.opened_month <= one.closed
        ends_after_start = row.back_within is None or row.back_within >= one.opened
        if starts_before_end and ends_after_start:
            return row
    return None


def _open(one: Found, *, by: Actor, at: datetime) -> Signal:
    row = Signal.objects.create(
        clinic_id=one.clinic_id,
        subject_kind=one.subject_kind,
        subject_id=one.subject_id,
        part=one.part,
        measure=one.measure,
        channel=one.channel,
        tier=one.tier,
        direction=one.direction,
        opened_month=one.opened,
        opened_at=at,
        since=one.since,
        distance=one.distance,
        last_month_beyond=max(one.last_beyond, one.opened),
        back_within=one.closed,
        evidence=one.evidence,
        engine_version=ENGINE_VERSION,
        leads_from=_leads_from(one, at),
    )
    _record("signal.opened", row, by=by, at=at)
    return row


def _leads_from(one: Found, at: datetime) -> datetime:
    """When a lead may see it: at once, unless a tester with an account is to see it first."""
    if one.subject_kind != "tester" or not _has_account(one.subject_id):
        return at
    return at + timedelta(days=settings.SIGNAL_TESTER_FIRST_DAYS)


def _has_account(tester_id: UUID) -> bool:
    return Membership.objects.in_force().filter(role="tester", tester_id=tester_id).exists()


def _follow(row: Signal, one: Found, *, by: Actor, at: datetime) -> None:
    changed: dict[str, Any] = {
        "last_month_beyond": max(one.last_beyond, row.opened_month),
        "back_within": one.closed,
    }
    raised = TIER_ORDER[one.tier] > TIER_ORDER[row.tier]
    if raised:
        changed |= {
            "tier": one.tier,
            "channel": one.channel,
            "direction": one.direction,
            "since": one.since,
            "distance": one.distance,
            "evidence": one.evidence | {"before": _before(row)},
        }
    if all(getattr(row, name) == value for name, value in changed.items()):
        return
    for name, value in changed.items():
        setattr(row, name, value)
    row.save(update_fields=list(changed))
    if raised:
        _record("signal.raised", row, by=by, at=at)


def _before(row: Signal) -> dict[str, object]:
    """What the signal said before it was raised, so that nothing of it is lost."""
    return {
        "tier": row.tier,
        "channel": row.channel,
        "distance": row.distance,
        "evidence": row.evidence,
    }


def _close(row: Signal, month: date, *, by: Actor, at: datetime) -> None:
    row.back_within = max(month, row.opened_month)
    row.save(update_fields=["back_within"])
    _record("signal.closed", row, by=by, at=at)


def _record(action: str, row: Signal, *, by: Actor, at: datetime) -> None:
    audit.record(
        action,
        by=by,
        at=at,
        clinic_id=row.clinic_id,
        object_kind="signal",
        object_id=row.id,
        detail={"measure": row.measure, "tier": row.tier, "subject": row.subject_kind},
    )
