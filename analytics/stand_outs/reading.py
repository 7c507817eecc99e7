"""Visits that stand out, for those who may see them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Q, QuerySet

from analytics.models import StandOut
from analytics.summaries.codes import clinic_codes, codes_of
from registry.access.requests import Access
from registry.models import Clinic, Tester, Visit
from registry.reading.visits import view_is_reduced

Body = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class StandOutFilters:
    """What the list may be narrowed by; codes as the clinics write them, days inclusive."""

    clinic: str | None = None
    tester: str | None = None
    reason: str | None = None
    date_from: date | None = None
    date_to: date | None = None


def stand_outs_visible(access: Access, filters: StandOutFilters) -> QuerySet[StandOut]:
    """The visits that stand out and that this reader may see, newest first, in a total order.

    A tester sees the own ones. To a lead they come by month and in it by the random id, and days
    asked for are widened to months: neither an order nor an answer tells the day of a visit.
    """
    reduced = view_is_reduced(access)
    rows = StandOut.objects.filter(clinic_id__in=access.clinic_ids)
    if access.role == "tester":
        own = access.membership.tester_id
        rows = rows.filter(tester_id=own) if own else rows.none()
    rows = rows.filter(_asked(access, filters), _days(filters, by_month=reduced))
    return rows.order_by("-month" if reduced else "-visit_date", "-visit_id")


def stand_outs_json(rows: Sequence[StandOut], *, reduced: bool) -> list[Body]:
    """The bodies of these rows; ``reduced`` without day and code of the visit."""
    clinic_ids = {row.clinic_id for row in rows}
    clinics = clinic_codes(clinic_ids)
    testers = codes_of(Tester, clinic_ids, (row.tester_id for row in rows))
    refs = {} if reduced else _refs(rows)
    return [
        {
            "id": str(row.visit_id),
            "clinic": clinics[row.clinic_id],
            "tester": testers[row.tester_id],
            "month": row.month.strftime("%Y-%m"),
            "visit_date": None if reduced else row.visit_date,
            "visit_ref": refs.get(str(row.visit_id)),
            "distance": row.distance,
            "reason_codes": row.reason_codes,
            "reasons": row.reasons,
        }
        for row in rows
    ]


def _refs(rows: Sequence[StandOut]) -> dict[str, str]:
    visits = Visit.objects.filter(
        clinic_id__in={row.clinic_id for row in rows}, id__in=[row.visit_id for row in rows]
    )
    return {str(one): ref for one, ref in visits.values_list("id", "visit_ref")}


def _asked(access: Access, filters: StandOutFilters) -> Q:
    wanted = Q()
    if filters.reason is not None:
        wanted &= Q(reason_codes__contains=[filters.reason])
    if filters.clinic is not None:
        clinics = Clinic.objects.filter(code=filters.clinic, id__in=access.clinic_ids)
        wanted &= Q(clinic_id__in=list(clinics.values_list("id", flat=True)))
    if filters.tester is not None:
        testers = Tester.objects.filter(clinic_id__in=access.clinic_ids, code=filters.tester)
        wanted &= Q(tester_id__in=testers.values("id"))
    return wanted


def _days(filters: StandOutFilters, *, by_month: bool) -> Q:
    column, first, last = "visit_date", filters.date_from, filters.date_to
    if by_month:
        column, first = "month", first and first.replace(day=1)
    asked = {f"{column}__gte": first, f"{column}__lte": last}
    return Q(**{name: day for name, day in asked.items() if day is not None})
