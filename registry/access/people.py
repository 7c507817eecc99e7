"""Networks, clinics and people set up by whoever runs the service."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.contrib.auth.password_validation import validate_password
from django.db import transaction

from registry.access import audit
from registry.access.scope import Actor
from registry.models import Clinic, Membership, Network, NetworkAgreement, User


class ZoneUnknown(Exception):
    """There is no such IANA time zone."""


@transaction.atomic
def network_add(*, code: str, name: str, by: Actor, at: datetime) -> Network:
    network = Network.objects.create(code=code, name=name)
    _record("network.created", network.pk, "network", by=by, at=at)
    return network


@transaction.atomic
def agreement_record(
    *,
    network: Network,
    controller: str,
    legal_basis: str,
    terms: str,
    contact: str,
    in_force_from: date,
    in_force_to: date | None,
    by: Actor,
    at: datetime,
) -> NetworkAgreement:
    """Put on record what allows the network to keep results here."""
    agreement = NetworkAgreement.objects.create(
        network=network,
        controller=controller,
        legal_basis=legal_basis,
        terms=terms,
        contact=contact,
        in_force_from=in_force_from,
        in_force_to=in_force_to,
        recorded_at=at,
        recorded_by=by.name,
    )
    _record("agreement.recorded", agreement.pk, "network_agreement", by=by, at=at)
    return agreement


@transaction.atomic
def clinic_add(
    *, network: Network, code: str, name: str, time_zone: str, by: Actor, at: datetime
) -> Clinic:
    """:raises ZoneUnknown: if the time zone is not one of the IANA database."""
    try:
        ZoneInfo(time_zone)
    except (ZoneInfoNotFoundError, ValueError):
        raise ZoneUnknown from None
    clinic = Clinic.objects.create(network=network, code=code, name=name, time_zone=time_zone)
    _record("clinic.created", clinic.pk, "clinic", by=by, at=at, clinic_id=clinic.pk)
    return clinic


@transaction.atomic
def member_add(
    *,
    username: str,
    password: str | None,
    role: str,
    clinic: Clinic | None = None,
    network: Network | None = None,
    tester_id: UUID | None = None,
    by: Actor,
    at: datetime,
) -> Membership:
    """Give a person a role at a place; a new person needs a password, a known one none.

    :raises ValidationError: if the password is too weak (django.core.exceptions).
    """
    user = User.objects.filter(username=username).first()
    if user is None:
        user = User(username=username)
        validate_password(password or "", user)
        user.set_password(password)
        user.save()
    membership = Membership.objects.create(
        user=user,
        role=role,
        clinic=clinic,
        network=network,
        tester_id=tester_id,
        granted_at=at,
        granted_by=by.name,
    )
    clinic_id = clinic.pk if clinic else None
    _record(
        "membership.granted",
        membership.pk,
        "membership",
        by=by,
        at=at,
        clinic_id=clinic_id,
        role=role,
    )
    return membership


def _record(
    action: str,
    object_id: object,
    kind: str,
    *,
    by: Actor,
    at: datetime,
    clinic_id: int | None = None,
    **detail: object,
) -> None:
    audit.record(
        action,
        by=by,
        at=at,
        clinic_id=clinic_id,
        object_kind=kind,
        object_id=object_id,
        detail=detail,
    )
