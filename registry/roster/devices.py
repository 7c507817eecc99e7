"""Irrigators, recorders and thermometers of a clinic: labels, and when each was in service.

A label used again is a new device: what was measured with the old one must never be counted
for the new one.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import TypeVar
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet

from registry.access.audit import record
from registry.access.scope import Actor
from registry.models import Clinic, Irrigator, Recorder, Thermometer
from registry.roster.body import read_change, read_new, refuse_backwards
from registry.roster.conflicts import code_in_use_if_breaks
from registry.roster.fields import DEVICE_FIELDS

DeviceT = TypeVar("DeviceT", Irrigator, Recorder, Thermometer)


class DeviceNotFound(Exception):
    """The clinic has no device of this kind with this id."""


def devices_of(kind: type[DeviceT], *, clinic: Clinic) -> QuerySet[DeviceT]:
    """The clinic's devices of a kind, retired ones too, by label."""
    return kind.objects.filter(clinic=clinic).order_by("code", "id")


def device_get(kind: type[DeviceT], *, clinic: Clinic, device_id: UUID) -> DeviceT:
    """:raises DeviceNotFound: no such device at this clinic."""
    device = kind.objects.filter(clinic=clinic, id=device_id).first()
    if device is None:
        raise DeviceNotFound
    return device


def device_create(
    kind: type[DeviceT], *, clinic: Clinic, data: object, by: Actor, at: datetime
) -> DeviceT:
    """Add a device; ``data`` holds ``DEVICE_FIELDS`` as JSON gives them.

    :raises RosterRefused: with everything that is wrong with ``data``.
    :raises CodeInUse: a device with this label is in service.
    """
    values = read_new(data, DEVICE_FIELDS, zone=clinic.zone())
    refuse_backwards(values, "in_service_from", "retired_at")
    with transaction.atomic():
        with code_in_use_if_breaks(f"{kind._meta.model_name}_code_once_in_service"):
            device = kind.objects.create(clinic=clinic, created_at=at, **values)
        _record("created", device, clinic, by, at, {})
    return device


def device_change(
    kind: type[DeviceT],
    *,
    clinic: Clinic,
    device_id: UUID,
    data: object,
    by: Actor,
    at: datetime,
) -> DeviceT:
    """Change what is known of a device, for example retire it; never its label.

    :raises DeviceNotFound: no such device at this clinic.
    :raises RosterRefused: with everything that is wrong with ``data``.
    :raises CodeInUse: brought back into service, but its label is on another device by now.
    """
    with transaction.atomic():
        device = kind.objects.select_for_update().filter(clinic=clinic, id=device_id).first()
        if device is None:
            raise DeviceNotFound
        changes = read_change(data, DEVICE_FIELDS, fixed=("code",), zone=clinic.zone())
        changed = [name for name, value in changes.items() if getattr(device, name) != value]
        for name in changed:
            setattr(device, name, changes[name])
        refuse_backwards(vars(device), "in_service_from", "retired_at")
        if changed:
            with code_in_use_if_breaks(f"{kind._meta.model_name}_code_once_in_service"):
                device.save(update_fields=changed)
            _record("changed", device, clinic, by, at, {"fields": sorted(changed)})
    return device


def device_in_service(kind: type[DeviceT], *, clinic: Clinic, code: str, on: date) -> DeviceT | str:
    """The device that carried this label on that day, or the code of the fault."""
    labelled = list(kind.objects.filter(clinic=clinic, code=code).order_by("-created_at", "id"))
    name = kind._meta.model_name
    if not labelled:
        return f"unknown_{name}"
    there = [device for device in labelled if _was_in_service(device, on)]
    # Of two whose days overlap, the label was on the later one.
    return there[0] if there else f"{name}_not_in_service"


def _was_in_service(device: Irrigator | Recorder | Thermometer, on: date) -> bool:
    start, end = device.in_service_from, device.retired_at
    return (start is None or start <= on) and (end is None or on <= end)


def _record(
    deed: str,
    device: Irrigator | Recorder | Thermometer,
    clinic: Clinic,
    by: Actor,
    at: datetime,
    detail: dict[str, object],
) -> None:
    name = str(device._meta.model_name)
    record(
        f"{name}.{deed}",
        by=by,
        at=at,
        clinic_id=clinic.pk,
        object_kind=name,
        object_id=device.id,
        detail=detail,
    )
