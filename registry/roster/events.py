"""What was done to an irrigator or a recorder that may change what it measures."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.db.models import OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce

from registry.access.audit import record
from registry.access.scope import Actor
from registry.intake.changed import note_keys
from registry.intake.faults import Fault
from registry.models import Clinic, EquipmentEvent, Irrigator, Recorder
from registry.roster.body import RosterRefused, Values, read_new
from registry.roster.devices import device_in_service
from registry.roster.fields import EVENT_FIELDS


def equipment_events_of(*, clinic: Clinic) -> QuerySet[EquipmentEvent]:
    """The clinic's equipment events, the latest first, with ``device_code``."""
    irrigators = Irrigator.objects.filter(clinic=clinic, id=OuterRef("irrigator_id"))
    recorders = Recorder.objects.filter(clinic=clinic, id=OuterRef("recorder_id"))
    return (
        EquipmentEvent.objects.filter(clinic_id=clinic.pk)
        .annotate(
            device_code=Coalesce(
                Subquery(irrigators.values("code")), Subquery(recorders.values("code"))
            )
        )
        .order_by("-happened_at", "-id")
    )


def equipment_event_record(
    *, clinic: Clinic, data: object, by: Actor, at: datetime
) -> tuple[EquipmentEvent, bool]:
    """Record an event; the same one again gives back the first. The bool says whether it is new.

    :raises RosterRefused: with everything that is wrong with ``data``.
    """
    values, device = _read(clinic, data, at)
    with transaction.atomic():
        # No unique key stands behind an event: the device's lock keeps two senders apart.
        type(device).objects.select_for_update().get(clinic=clinic, id=device.id)
        event, created = EquipmentEvent.objects.get_or_create(
            clinic_id=clinic.pk, **values, defaults={"recorded_at": at, "recorded_by": by.name}
        )
        if created:
            if event.irrigator_id is not None:
                # Its readings begin anew: what they say about drift is another matter now.
                month = clinic.local_date(event.happened_at).replace(day=1)
                note_keys({("irrigator", event.irrigator_id, month)}, clinic_id=clinic.pk, at=at)
            record(
                "equipment_event.recorded",
                by=by,
                at=at,
                clinic_id=clinic.pk,
                object_kind="equipment_event",
                object_id=event.id,
                detail={"kind": event.kind},
            )
    return equipment_events_of(clinic=clinic).get(id=event.id), created


def _read(clinic: Clinic, data: object, at: datetime) -> tuple[Values, Irrigator | Recorder]:
    values = read_new(data, EVENT_FIELDS, zone=clinic.zone())
    codes = {"irrigator": values.pop("irrigator"), "recorder": values.pop("recorder")}
    faults: list[Fault] = []
    if values["happened_at"] > at:
        faults.append(Fault("/happened_at", "date_in_future"))
    day = clinic.local_date(values["happened_at"])
    found: list[Irrigator | Recorder] = []
    for name, code in codes.items():
        kind: type[Irrigator] | type[Recorder] = Irrigator if name == "irrigator" else Recorder
        device = code and device_in_service(kind, clinic=clinic, code=code, on=day)
        if isinstance(device, str):
            faults.append(Fault(f"/{name}", device))
        elif device is not None:
            found.append(device)
    if sum(code is not None for code in codes.values()) != 1:
        faults.append(Fault("", "one_device_needed"))
    if faults:
        raise RosterRefused(faults)
    (device,) = found
    irrigator_id = device.id if isinstance(device, Irrigator) else None
    recorder_id = device.id if isinstance(device, Recorder) else None
    return values | {"irrigator_id": irrigator_id, "recorder_id": recorder_id}, device
