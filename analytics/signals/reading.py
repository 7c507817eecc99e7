"""Who sees which signal: the tester concerned first, then the site lead and the lead."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Final
from uuid import UUID

from django.db.models import Q, QuerySet

from analytics.models import Signal
from registry.access.requests import Access
from registry.models import Clinic, Irrigator, Tester

LEADING: Final = frozenset({"lead", "site_lead"})


class SignalNotFound(Exception):
    """There is no such signal, or none that this reader may see."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SignalFilters:
    """What a list may be narrowed by; months inclusive."""

    clinic: str | None = None
    tester: UUID | None = None
    irrigator: UUID | None = None
    # The same by the clinics' own codes, which may stand for one at each of several clinics.
    tester_code: str | None = None
    irrigator_code: str | None = None
    measure: str | None = None
    state: str | None = None
    tier: str | None = None
    opened_from: date | None = None
    opened_to: date | None = None
    open: bool | None = None


def signals_visible(access: Access, filters: SignalFilters, *, at: datetime) -> QuerySet[Signal]:
    """The signals this reader may see and asked for, the newest first, in a total order.

    A tester sees those about themselves from the first moment; a site lead and a lead from
    ``leads_from`` on. *Worth a look* is listed to the tester it is about; to leads only when they
    ask for that tester or irrigator.
    """
    rows = _of_reader(access, at).filter(_asked(filters) & _asked_by_code(access, filters))
    if filters.clinic is not None:
        clinics = Clinic.objects.filter(code=filters.clinic, id__in=access.clinic_ids)
        rows = rows.filter(clinic_id__in=list(clinics.values_list("id", flat=True)))
    if filters.tier is not None:
        rows = rows.filter(tier=filters.tier)
    elif access.role in LEADING and not _asks_for_one(filters):
        rows = rows.filter(tier="please_review")
    return rows.order_by("-opened_at", "-id")


def signal_get(access: Access, signal_id: UUID, *, at: datetime) -> Signal:
    """One signal.

    :raises SignalNotFound: if there is none, or none that this reader may see.
    """
    row = _of_reader(access, at).filter(id=signal_id).order_by("id").first()
    if row is None:
        raise SignalNotFound
    return row


def _of_reader(access: Access, at: datetime) -> QuerySet[Signal]:
    rows = Signal.objects.filter(clinic_id__in=access.clinic_ids)
    if access.role == "tester":
        own = access.membership.tester_id
        return rows.filter(subject_kind="tester", subject_id=own) if own else rows.none()
    if access.role in LEADING:
        return rows.filter(leads_from__lte=at)
    return rows.none()


def _asks_for_one(filters: SignalFilters) -> bool:
    asked = (filters.tester, filters.irrigator, filters.tester_code, filters.irrigator_code)
    return any(one is not None for one in asked)


def _asked_by_code(access: Access, filters: SignalFilters) -> Q:
    wanted = Q()
    for kind, model, code in (
        ("tester", Tester, filters.tester_code),
        ("irrigator", Irrigator, filters.irrigator_code),
    ):
        if code is not None:
            found = model.objects.filter(clinic_id__in=access.clinic_ids, code=code)
            wanted &= Q(subject_kind=kind, subject_id__in=found.values("id"))
    return wanted


def _asked(filters: SignalFilters) -> Q:
    wanted: dict[str, object] = {
        "measure": filters.measure,
        "state": filters.state,
        "opened_month__gte": filters.opened_from and filters.opened_from.replace(day=1),
        "opened_month__lte": filters.opened_to and filters.opened_to.replace(day=1),
        "back_within__isnull": filters.open,
    }
    for kind, subject in (("tester", filters.tester), ("irrigator", filters.irrigator)):
        if subject is not None:
            wanted |= {"subject_kind": kind, "subject_id": subject}
    return Q(**{name: value for name, value in wanted.items() if value is not None})
