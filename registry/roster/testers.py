"""Testers of a clinic: codes and when they were active."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet

from registry.access.audit import record
from registry.access.scope import Actor
from registry.models import Clinic, Tester
from registry.roster.body import read_change, read_new, refuse_backwards
from registry.roster.conflicts import code_in_use_if_breaks
from registry.roster.fields import TESTER_FIELDS


class TesterNotFound(Exception):
    """The clinic has no tester with this id."""


def testers_of(*, clinic: Clinic) -> QuerySet[Tester]:
    """The clinic's testers, by code."""
    return Tester.objects.filter(clinic=clinic).order_by("code", "id")


def tester_get(*, clinic: Clinic, tester_id: UUID) -> Tester:
    """:raises TesterNotFound: no such tester at this clinic."""
    tester = Tester.objects.filter(clinic=clinic, id=tester_id).first()
    if tester is None:
        raise TesterNotFound
    return tester


def tester_create(*, clinic: Clinic, data: object, by: Actor, at: datetime) -> Tester:
    """Add a tester; ``data`` holds ``TESTER_FIELDS`` as JSON gives them.

    :raises RosterRefused: with everything that is wrong with ``data``.
    :raises CodeInUse: the clinic has a tester with this code, active or not.
    """
    values = read_new(data, TESTER_FIELDS, zone=clinic.zone())
    refuse_backwards(values, "active_from", "active_to")
    with transaction.atomic():
        with code_in_use_if_breaks("tester_code_once_per_clinic"):
            tester = Tester.objects.create(clinic=clinic, created_at=at, **values)
        record(
            "tester.created",
            by=by,
            at=at,
            clinic_id=clinic.pk,
            object_kind="tester",
            object_id=tester.id,
        )
    return tester


def tester_change(
    *, clinic: Clinic, tester_id: UUID, data: object, by: Actor, at: datetime
) -> Tester:
    """Change what is known of a tester, never the code: earlier visits go by it.

    :raises TesterNotFound: no such tester at this clinic.
    :raises RosterRefused: with everything that is wrong with ``data``.
    """
    with transaction.atomic():
        tester = Tester.objects.select_for_update().filter(clinic=clinic, id=tester_id).first()
        if tester is None:
            raise TesterNotFound
        changes = read_change(data, TESTER_FIELDS, fixed=("code",), zone=clinic.zone())
        changed = [name for name, value in changes.items() if getattr(tester, name) != value]
        for name in changed:
            setattr(tester, name, changes[name])
        refuse_backwards(vars(tester), "active_from", "active_to")
        if changed:
            tester.save(update_fields=changed)
            record(
                "tester.changed",
                by=by,
                at=at,
                clinic_id=clinic.pk,
                object_kind="tester",
                object_id=tester.id,
                detail={"fields": sorted(changed)},
            )
    return tester
