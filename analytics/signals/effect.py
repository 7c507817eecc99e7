"""Did what was done help? Looked at from the day that the review asked for."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Final

from analytics.measures import catalogue
from analytics.models import Cell, Signal, SignalEntry
from analytics.rollups.refresh import WORKER

_SUBJECT_FIELD: Final = {"tester": "tester_id", "irrigator": "irrigator_id"}


def effects_check(clinic_ids: Sequence[int], *, covers_until: date, at: datetime) -> int:
    """Say of each signal whose day has come whether it is back within; how many were looked at.

    ``too_few_visits`` when the months since the review hold fewer than the measure needs: it is
    looked at again by the next build.
    """
    due = Signal.objects.filter(
        clinic_id__in=clinic_ids, due_on__isnull=False, due_on__lte=covers_until
    ).exclude(effect__in=("back_within", "still_beyond"))
    rows = list(due.order_by("clinic_id", "id"))
    for row in rows:
        effect = _effect(row, covers_until)
        if effect == row.effect:
            continue
        row.effect, row.effect_checked_on = effect, covers_until
        row.save(update_fields=["effect", "effect_checked_on"])
        SignalEntry.objects.create(
            clinic_id=row.clinic_id,
            signal_id=row.id,
            kind="effect",
            effect=effect,
            note="",
            made_at=at,
            made_by=WORKER.name,
            made_as=WORKER.role,
        )
    return len(rows)


def _effect(signal: Signal, covers_until: date) -> str:
    if signal.back_within is not None:
        return "back_within"
    if _visits_since_review(signal, covers_until) < _fewest(signal.measure):
        return "too_few_visits"
    return "still_beyond"


def _fewest(measure: str) -> int:
    return catalogue()[measure].minimum_visits


def _visits_since_review(signal: Signal, covers_until: date) -> int:
    reviews = SignalEntry.objects.filter(
        clinic_id=signal.clinic_id, signal_id=signal.id, kind="review"
    ).order_by("-made_at")
    latest = reviews.first()
    if latest is None:
        return 0
    cells = Cell.objects.filter(
        clinic_id=signal.clinic_id,
        month__gt=latest.made_at.date().replace(day=1),
        month__lte=covers_until,
    )
    field = _SUBJECT_FIELD.get(signal.subject_kind)
    if field is not None:
        cells = cells.filter(**{field: signal.subject_id})
    return sum(cells.values_list("visits", flat=True))
