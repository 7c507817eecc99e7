"""Figures made ahead, for those who may see them, and whether they are current."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final
from uuid import UUID

from django.db.models import Q, QuerySet

from analytics.models import NetworkState, Snapshot
from registry.access.requests import Access
from registry.models import ChangedKey, Irrigator, Tester

OF_SUBJECTS: Final = ("tester", "irrigator", "clinic")
NAMES: Final = ("network", "measure", *OF_SUBJECTS, "retests")


class DashboardNotFound(Exception):
    """There is no such dashboard, or none that this reader may see."""


@dataclass(frozen=True, slots=True)
class Dashboard:
    """A snapshot; ``stale``: the network's data moved after it was made, or changes wait."""

    snapshot: Snapshot
    stale: bool


def dashboard_get(access: Access, name: str, *, about: str) -> Dashboard:
    """The dashboard of that name about one measure or subject, made for this reader's role.

    :raises DashboardNotFound: if there is none that this reader may see.
    """
    rows = _of_reader(access, name, about).filter(name=name, about=about)
    snapshot = rows.order_by("-built_at", "id").first()
    if snapshot is None:
        raise DashboardNotFound
    return Dashboard(snapshot, _is_stale(snapshot))


def _of_reader(access: Access, name: str, about: str) -> QuerySet[Snapshot]:
    """Only what rests on clinics within reach: the database asks for the same."""
    rows = Snapshot.objects.filter(clinics__contained_by=list(access.clinic_ids))
    if access.role == "lead":
        return rows.filter(audience="lead")
    if access.role == "site_lead":
        if name == "measure":
            return rows.filter(audience="site_lead")
        if name in OF_SUBJECTS and _is_own(access, name, about):
            return rows.filter(audience="lead")
    if access.role == "tester" and name == "tester" and about == str(access.membership.tester_id):
        return rows.filter(audience="tester")
    return rows.none()


def _is_own(access: Access, kind: str, about: str) -> bool:
    """Whether a subject is the reader's clinic's; which clinics went into a figure is not asked."""
    try:
        subject = UUID(about)
    except ValueError:
        return False
    if kind == "clinic":
        return access.clinic is not None and subject == access.clinic.public_id
    model = Tester if kind == "tester" else Irrigator
    return model.objects.filter(clinic_id__in=access.clinic_ids, id=subject).exists()


def _is_stale(snapshot: Snapshot) -> bool:
    moved = Q(network_id=snapshot.network_id, data_changed_at__gt=snapshot.built_at)
    return (
        NetworkState.objects.filter(moved).exists()
        or ChangedKey.objects.filter(clinic_id__in=snapshot.clinics).exists()
    )
