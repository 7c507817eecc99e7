"""What is decided on a visit of a look-back, and who sees the list."""

from __future__ import annotations

from datetime import datetime, tzinfo
from typing import Final
from uuid import UUID

from django.db import transaction
from django.db.models import Count, IntegerField, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from analytics.models import LookBack, LookBackVisit
from analytics.models.look_back import DECISIONS
from registry.access import audit
from registry.access.requests import Access
from registry.access.scope import Actor
from registry.intake.fields import Field
from registry.roster.body import read_new

DECISION_FIELDS: Final = (
    Field("decision", "word", "What becomes of the visit.", words=DECISIONS, needed=True),
)


class LookBackNotFound(Exception):
    """There is no such look-back, or no such visit in it, that this reader may see."""


def look_backs_visible(access: Access) -> QuerySet[LookBack]:
    """The look-backs of the reader's clinics, the latest check first, with how many visits."""
    visits = LookBackVisit.objects.filter(clinic_id__in=access.clinic_ids)
    return (
        LookBack.objects.filter(clinic_id__in=access.clinic_ids)
        .annotate(
            visit_count=_count(visits, Q()),
            changed_count=_count(visits, ~Q(changed=[])),
            undecided_count=_count(visits, Q(decision=None)),
        )
        .order_by("-checked_at", "-id")
    )


def _count(visits: QuerySet[LookBackVisit], which: Q) -> Coalesce:
    of_one = visits.filter(
        which, clinic_id=OuterRef("clinic_id"), look_back_id=OuterRef("id")
    ).order_by()
    counted = of_one.values("look_back_id").annotate(n=Count("visit_id")).values("n")
    return Coalesce(Subquery(counted, output_field=IntegerField()), 0)


def look_back_get(access: Access, look_back_id: UUID) -> LookBack:
    """One look-back.

    :raises LookBackNotFound: if there is none that this reader may see.
    """
    row = look_backs_visible(access).filter(id=look_back_id).first()
    if row is None:
        raise LookBackNotFound
    return row


def look_back_visits(row: LookBack) -> list[LookBackVisit]:
    """Its visits, those in which a criterion could change first, then by the random id."""
    visits = LookBackVisit.objects.filter(clinic_id=row.clinic_id, look_back_id=row.id)
    return sorted(visits, key=lambda one: (not one.changed, one.month, str(one.visit_id)))


@transaction.atomic
def look_back_decide(
    row: LookBack, visit_id: UUID, data: object, *, zone: tzinfo, by: Actor, at: datetime
) -> LookBackVisit:
    """Keep what becomes of a visit; a later decision takes the place of an earlier one.

    :raises RosterRefused: if the decision is none of the words.
    :raises LookBackNotFound: if the look-back holds no such visit.
    """
    decision = read_new(data, DECISION_FIELDS, zone=zone)["decision"]
    rows = LookBackVisit.objects.filter(
        clinic_id=row.clinic_id, look_back_id=row.id, visit_id=visit_id
    )
    if rows.update(decision=decision, decided_at=at, decided_by=by.name) != 1:
        raise LookBackNotFound
    audit.record(
        "look_back.decided",
        by=by,
        at=at,
        clinic_id=row.clinic_id,
        object_kind="visit",
        object_id=visit_id,
        detail={"decision": decision, "look_back": str(row.id)},
    )
    return rows.get()
