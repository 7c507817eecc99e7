"""Years of temperature checks at once, as when a clinic joins with its old records."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from registry.access.audit import record
from registry.access.scope import Actor
from registry.intake.changed import note_keys
from registry.intake.context import ClinicDirectory, directory_of, procedure_of
from registry.intake.faults import Fault
from registry.intake.store import insert_rows
from registry.models import Clinic, Irrigator, TemperatureCheck, Thermometer
from registry.models.fields import new_id
from registry.roster.body import RosterRefused, Values, read_new
from registry.roster.fields import CHECK_FIELDS
from registry.roster.irrigator_state import refresh_out_of_use
from registry.roster.temperature_checks import is_within_tolerance, reading_faults


@transaction.atomic
def temperature_checks_load(
    *, clinic: Clinic, readings: Sequence[object], by: Actor, at: datetime
) -> int:
    """Record all readings or none, and return how many were new.

    For a clinic whose visits come afterwards: findings of visits that are stored already are
    not computed again here (``manage.py recompute`` does that).

    :raises RosterRefused: with the faults of the first reading that cannot be taken.
    """
    directory = directory_of(clinic)
    thermometers = dict(Thermometer.objects.filter(clinic=clinic).values_list("code", "id"))
    tolerance = procedure_of(clinic).temperature_tolerance_c
    rows = [
        _row(clinic, reading, directory, thermometers, tolerance, at)
        | {"recorded_at": at, "recorded_by": by.name}
        for reading in readings
    ]
    added = len(insert_rows(TemperatureCheck, rows, returning="id"))
    for irrigator in Irrigator.objects.select_for_update().filter(clinic=clinic).order_by("id"):
        refresh_out_of_use(irrigator)
    note_keys(
        {
            ("irrigator", row["irrigator_id"], clinic.local_date(row["checked_at"]).replace(day=1))
            for row in rows
        },
        clinic_id=clinic.pk,
        at=at,
    )
    record(
        "temperature_check.file_recorded",
        by=by,
        at=at,
        clinic_id=clinic.pk,
        object_kind="temperature_check",
        object_id="",
        detail={"added": added},
    )
    return added


def _row(
    clinic: Clinic,
    reading: object,
    directory: ClinicDirectory,
    thermometers: dict[str, Any],
    tolerance: float,
    at: datetime,
) -> Values:
    values = read_new(reading, CHECK_FIELDS, zone=clinic.zone())
    _, irrigators, _ = directory.ids_on(clinic.local_date(values["checked_at"]))
    irrigator_id = irrigators.get(values.pop("irrigator"))
    thermometer = values.pop("thermometer")
    faults = reading_faults(values, at=at)
    if irrigator_id is None:
        faults.append(Fault("/irrigator", "unknown_irrigator"))
    if thermometer is not None and thermometer not in thermometers:
        faults.append(Fault("/thermometer", "unknown_thermometer"))
    if faults:
        raise RosterRefused(faults)
    return values | {
        "clinic_id": clinic.pk,
        "id": new_id(),
        "irrigator_id": irrigator_id,
        "thermometer_id": thermometers.get(thermometer),
        "tolerance_c": tolerance,
        "within_tolerance": is_within_tolerance(
            reading_c=values["reading_c"],
            set_temperature_c=values["set_temperature_c"],
            tolerance_c=tolerance,
        ),
    }
