"""Visits as their readers may see them: whose, which, in what order."""

from __future__ import annotations

from calendar import monthrange
from dataclasses import dataclass, fields, replace
from datetime import date
from typing import Final
from uuid import UUID

from django.db.models import Exists, OuterRef, Q
from django.db.models.functions import TruncMonth

from registry.access.requests import Access
from registry.intake.submit import VisitNotFound
from registry.models import Clinic, Irrigation, Visit, VisitResult
from registry.models.visit import VisitQuerySet

# A lead looks across clinics and needs no person's code: see ``visit_json``.
REDUCED_ROLES: Final = frozenset({"lead"})


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitFilters:
    """What a list may be narrowed by; codes as the clinics write them, days inclusive."""

    clinic: str | None = None
    tester: str | None = None
    irrigator: str | None = None
    medium: str | None = None
    date_from: date | None = None
    date_to: date | None = None
    finding: str | None = None
    assessment: str | None = None
    withdrawn: bool | None = None

    def any(self) -> bool:
        return any(getattr(self, one.name) is not None for one in fields(self))


def view_is_reduced(access: Access) -> bool:
    return access.role in REDUCED_ROLES


def visits_visible(access: Access, filters: VisitFilters) -> VisitQuerySet:
    """The visits this reader may see and asked for, newest first (for a lead: newest month).

    The order is total.

    The clinics are filtered here as well as by the database: its row security alone would make
    it look at every row of the scope.
    """
    if view_is_reduced(access):
        filters = _whole_months(filters)
    visits = _of_reader(access).filter(_asked(filters))
    if filters.clinic is not None:
        clinics = Clinic.objects.filter(code=filters.clinic, id__in=access.clinic_ids)
        visits = visits.filter(clinic_id__in=list(clinics.values_list("id", flat=True)))
    for name, code in (("finding", filters.finding), ("assessment", filters.assessment)):
        if code is not None:
            visits = visits.filter(_result_has(name, code))
    return _by_month(visits) if view_is_reduced(access) else visits.in_page_order()


def _by_month(visits: VisitQuerySet) -> VisitQuerySet:
    """Newest month first, in it by the random id: the place in an order of days tells the day."""
    months = visits.annotate(visit_month=TruncMonth("visit_date"))
    return months.order_by("-visit_month", "-id")


def _whole_months(filters: VisitFilters) -> VisitFilters:
    """The asked days widened to whole months: asking day by day would find the day of a visit."""
    first, last = filters.date_from, filters.date_to
    return replace(
        filters,
        date_from=first and first.replace(day=1),
        date_to=last and last.replace(day=monthrange(last.year, last.month)[1]),
    )


def visit_get(access: Access, visit_id: UUID) -> Visit:
    """One visit.

    :raises VisitNotFound: if there is none, or none that this reader may see.
    """
    visit = _of_reader(access).filter(id=visit_id).order_by("id").first()
    if visit is None:
        raise VisitNotFound
    return visit


def _of_reader(access: Access) -> VisitQuerySet:
    visits = Visit.objects.filter(clinic_id__in=access.clinic_ids)
    if access.role == "tester":
        visits = visits.filter(_by_tester(access.membership.tester_id))
    return visits


def _by_tester(tester_id: UUID | None) -> Q:
    return Q(tester_id=tester_id) | Q(
        Exists(
            Irrigation.objects.filter(
                clinic_id=OuterRef("clinic_id"), visit_id=OuterRef("id"), tester_id=tester_id
            )
        )
    )


def _asked(filters: VisitFilters) -> Q:
    wanted = {
        "tester__code": filters.tester,
        "irrigator__code": filters.irrigator,
        "medium": filters.medium,
        "visit_date__gte": filters.date_from,
        "visit_date__lte": filters.date_to,
        "withdrawn_at__isnull": None if filters.withdrawn is None else not filters.withdrawn,
    }
    return Q(**{name: value for name, value in wanted.items() if value is not None})


def _result_has(kind: str, code: str) -> Exists:
    return Exists(
        VisitResult.objects.filter(
            clinic_id=OuterRef("clinic_id"),
            visit_id=OuterRef("id"),
            **{f"{kind}_codes__contains": [code]},
        )
    )
