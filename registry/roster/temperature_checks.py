"""Readings of an irrigator's temperature: recorded, judged, withdrawn."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import QuerySet

from registry.access.audit import record
from registry.access.scope import Actor
from registry.intake.changed import note_keys
from registry.intake.checks.rules.set_temperature import BODY_TEMPERATURE_C
from registry.intake.context import procedure_of
from registry.intake.faults import Fault
from registry.intake.recompute import recompute_for_checks
from registry.models import Clinic, Irrigator, TemperatureCheck, Thermometer
from registry.roster.body import RosterRefused, Values, read_new
from registry.roster.conflicts import broken_constraint
from registry.roster.devices import device_in_service
from registry.roster.fields import CHECK_FIELDS
from registry.roster.irrigator_state import refresh_out_of_use

# 44.5 is within 0.5 of 44 although 44.5 - 44.0 need not be 0.5 in binary.
ROUNDING_C: Final = 1e-9


class CheckNotFound(Exception):
    """The clinic has no temperature check with this id."""


class CheckDiffers(Exception):
    """Another reading of this irrigator, stimulus, phase and moment is recorded already."""


@dataclass(frozen=True, slots=True)
class RecordedCheck:
    """A recorded reading and what it means for its irrigator.

    ``confirming_reading_needed``: it is the first out of tolerance in its series, and a second
    one decides. ``irrigator.out_of_use_since`` is up to date.
    """

    check: TemperatureCheck
    irrigator: Irrigator
    created: bool
    confirming_reading_needed: bool


def temperature_checks_of(*, clinic: Clinic) -> QuerySet[TemperatureCheck]:
    """The clinic's temperature checks, withdrawn ones too, the latest first."""
    return (
        TemperatureCheck.objects.filter(clinic_id=clinic.pk)
        .select_related("irrigator", "thermometer")
        .order_by("-checked_at", "-id")
    )


def temperature_check_get(*, clinic: Clinic, check_id: UUID) -> TemperatureCheck:
    """:raises CheckNotFound: no such check at this clinic."""
    check = temperature_checks_of(clinic=clinic).filter(id=check_id).first()
    if check is None:
        raise CheckNotFound
    return check


def temperature_check_record(
    *, clinic: Clinic, data: object, by: Actor, at: datetime
) -> RecordedCheck:
    """Record a reading and decide whether it is within the clinic's tolerance (Cel).

    ``data`` holds ``CHECK_FIELDS`` as JSON gives them. The same reading sent again gives back
    the first record.

    :raises RosterRefused: with everything that is wrong with ``data``.
    :raises CheckDiffers: another reading is recorded for the same moment.
    """
    values, irrigator = _read(clinic, data, at)
    with transaction.atomic():
        irrigator = Irrigator.objects.select_for_update().get(clinic=clinic, id=irrigator.id)
        check, created = _store(clinic, values, by, at)
        runs = refresh_out_of_use(irrigator)
        if created:
            _record("recorded", check, by, at)
            _recompute(check, clinic, at)
    run = runs[check.stimulus, check.set_temperature_c]
    return RecordedCheck(
        check=temperature_check_get(clinic=clinic, check_id=check.id),
        irrigator=irrigator,
        created=created,
        confirming_reading_needed=run.length == 1,
    )


def temperature_check_withdraw(*, clinic: Clinic, check_id: UUID, by: Actor, at: datetime) -> None:
    """Take a reading out of everything that counts; again: does nothing.

    :raises CheckNotFound: no such check at this clinic.
    """
    check = temperature_check_get(clinic=clinic, check_id=check_id)
    with transaction.atomic():
        irrigator = Irrigator.objects.select_for_update().get(clinic=clinic, id=check.irrigator_id)
        withdrawn = TemperatureCheck.objects.filter(
            clinic_id=clinic.pk, id=check_id, withdrawn_at=None
        ).update(withdrawn_at=at, withdrawn_by=by.name)
        if withdrawn:
            refresh_out_of_use(irrigator)
            _record("withdrawn", check, by, at)
            _recompute(check, clinic, at)


def is_within_tolerance(*, reading_c: float, set_temperature_c: float, tolerance_c: float) -> bool:
    """Whether a reading lies within the tolerance of what was set, the limit itself included."""
    return abs(reading_c - set_temperature_c) <= tolerance_c + ROUNDING_C


def reading_faults(values: Values, *, at: datetime) -> list[Fault]:
    """What is wrong with a reading by itself, whatever the clinic's devices are."""
    faults: list[Fault] = []
    if values["checked_at"] > at:
        faults.append(Fault("/checked_at", "date_in_future"))
    warm = values["stimulus"] == "warm"
    if values["set_temperature_c"] == BODY_TEMPERATURE_C or warm is not (
        values["set_temperature_c"] > BODY_TEMPERATURE_C
    ):
        faults.append(Fault("/set_temperature_c", "temperature_contradicts_stimulus"))
    return faults


def _read(clinic: Clinic, data: object, at: datetime) -> tuple[Values, Irrigator]:
    values = read_new(data, CHECK_FIELDS, zone=clinic.zone())
    faults = reading_faults(values, at=at)
    day = clinic.local_date(values["checked_at"])
    irrigator = device_in_service(Irrigator, clinic=clinic, code=values.pop("irrigator"), on=day)
    thermometer_code = values.pop("thermometer")
    thermometer = thermometer_code and device_in_service(
        Thermometer, clinic=clinic, code=thermometer_code, on=day
    )
    for name, device in (("irrigator", irrigator), ("thermometer", thermometer)):
        if isinstance(device, str):
            faults.append(Fault(f"/{name}", device))
    if faults or not isinstance(irrigator, Irrigator):
        raise RosterRefused(faults)
    return values | {
        "irrigator_id": irrigator.id,
        "thermometer_id": thermometer.id if isinstance(thermometer, Thermometer) else None,
    }, irrigator


def _store(
    clinic: Clinic, values: Values, by: Actor, at: datetime
) -> tuple[TemperatureCheck, bool]:
    tolerance = procedure_of(clinic).temperature_tolerance_c
    try:
        with transaction.atomic():
            check = TemperatureCheck.objects.create(
                clinic_id=clinic.pk,
                tolerance_c=tolerance,
                within_tolerance=is_within_tolerance(
                    reading_c=values["reading_c"],
                    set_temperature_c=values["set_temperature_c"],
                    tolerance_c=tolerance,
                ),
                recorded_at=at,
                recorded_by=by.name,
                **values,
            )
        return check, True
    except IntegrityError as error:
        if broken_constraint(error) != "check_once_per_moment":
            raise
    return _same_again(clinic, values), False


def _same_again(clinic: Clinic, values: Values) -> TemperatureCheck:
    moment = ("irrigator_id", "checked_at", "stimulus", "phase")
    recorded = TemperatureCheck.objects.get(
        clinic_id=clinic.pk, withdrawn_at=None, **{name: values[name] for name in moment}
    )
    if any(getattr(recorded, name) != value for name, value in values.items()):
        raise CheckDiffers
    return recorded


def _record(deed: str, check: TemperatureCheck, by: Actor, at: datetime) -> None:
    record(
        f"temperature_check.{deed}",
        by=by,
        at=at,
        clinic_id=check.clinic_id,
        object_kind="temperature_check",
        object_id=check.id,
        detail={"within_tolerance": check.within_tolerance},
    )


def _recompute(check: TemperatureCheck, clinic: Clinic, at: datetime) -> None:
    """Findings of the visits around a reading say whether one is current or failed."""
    recompute_for_checks(clinic=clinic, check=check, at=at)
    month = clinic.local_date(check.checked_at).replace(day=1)
    note_keys({("irrigator", check.irrigator_id, month)}, clinic_id=clinic.pk, at=at)
