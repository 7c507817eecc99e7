"""The invented clinics' files, through the same intake that real files go through."""

from __future__ import annotations

import io
from collections.abc import Callable
from datetime import date, datetime

from registry.access.scope import clinic_scope
from registry.demo.equipment import equipment_events, temperature_checks
from registry.demo.scenario import Clinic as InventedClinic
from registry.demo.scenario import Scenario
from registry.demo.visits import clinic_files
from registry.demo_service.network import DEMO_ACTOR
from registry.intake.uploads import upload_receive
from registry.models import Clinic, EquipmentEvent, TemperatureCheck, Upload, UploadProblem
from registry.roster.events import equipment_event_record
from registry.roster.temperature_check_file import temperature_checks_load

Tell = Callable[[str], None]


class DemoFileRefused(Exception):
    """A file of the demo had a problem: the generator and the checks no longer agree."""


def clinic_results_load(
    scenario: Scenario,
    of: InventedClinic,
    *,
    size: str,
    until: date,
    at: datetime,
    tell: Tell,
) -> None:
    """Load a clinic's checks, events and files; what an earlier start loaded is not doubled."""
    clinic = Clinic.objects.select_related("network").get(code=of.code)
    with clinic_scope([clinic.pk], by=DEMO_ACTOR):
        if not TemperatureCheck.objects.filter(clinic_id=clinic.pk).exists():
            readings = temperature_checks(scenario, of, until=until)
            temperature_checks_load(clinic=clinic, readings=readings, by=DEMO_ACTOR, at=at)
            tell(f"{of.code}: {len(readings)} temperature checks")
        if not EquipmentEvent.objects.filter(clinic_id=clinic.pk).exists():
            for event in equipment_events(scenario, of, until=until):
                event["kind"] = event.pop("event")
                equipment_event_record(clinic=clinic, data=event, by=DEMO_ACTOR, at=at)
    for file in clinic_files(scenario, of, size=size, until=until):
        with clinic_scope([clinic.pk], by=DEMO_ACTOR):
            upload, _ = upload_receive(
                clinic=clinic, stream=io.BytesIO(file.content), by=DEMO_ACTOR, at=at
            )
        if upload.visits_created != file.visits:
            raise DemoFileRefused(
                f"{file.name}: {upload.visits_created} of {file.visits} visits were taken;"
                f" {_faults(upload)}"
            )
        tell(f"{of.code}: {file.name}, {file.visits} visits")


def _faults(upload: Upload) -> str:
    with clinic_scope([upload.clinic_id], by=DEMO_ACTOR):
        problems = UploadProblem.objects.filter(
            clinic_id=upload.clinic_id, upload_id=upload.id
        ).order_by("number")
        return "; ".join(f"row {one.row} {one.column} {one.code}" for one in problems[:5])
