"""What a network and its clinics may set for themselves: criteria, procedure, usual values."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Final

from django.db import IntegrityError, transaction

from registry.access.audit import record
from registry.access.scope import Actor
from registry.caloric.criteria import CriteriaSet
from registry.caloric.procedure import Procedure
from registry.caloric.stored import SettingFault, SettingsInvalid
from registry.intake.checks import AnyCode, check_visit
from registry.models import Clinic, Network
from registry.models import CriteriaSet as CriteriaRow

# How a clinic works, which may be the same every day; never what was found in one subject.
MAY_HAVE_DEFAULT: Final = frozenset(
    {
        "irrigator",
        "recorder",
        "medium",
        "protocol_planned",
        "head_elevation_deg",
        "sign_convention",
        "recording.method",
        "recording.eye",
        "recording.vision_denied",
        "recording.alerting",
        "irrigations.set_temperature_c",
        "irrigations.warm.set_temperature_c",
        "irrigations.cool.set_temperature_c",
        "irrigations.measured_by",
        "irrigations.duration_s",
        "irrigations.volume_ml",
        "irrigations.peak_basis",
        "irrigations.position",
    }
)


class CriteriaVersionTaken(Exception):
    """The network has a set of this name and version; a change is a new version."""


@transaction.atomic
def network_use_criteria(
    *, network: Network, body: Mapping[str, Any], by: Actor, at: datetime
) -> CriteriaRow:
    """Store a network's own criteria set and use it from now on.

    Stored results keep the set they were assessed with until ``recompute`` has run.

    :raises SettingsInvalid: with every fault of the set.
    :raises CriteriaVersionTaken: if there is a set of this name and version.
    """
    content = CriteriaSet.from_json(body).to_json()
    try:
        with transaction.atomic():
            row = CriteriaRow.objects.create(
                network=network,
                name=content["name"],
                version=content["version"],
                content=content,
                created_at=at,
                created_by=by.name,
            )
    except IntegrityError:
        raise CriteriaVersionTaken from None
    network.criteria_set = row
    network.save(update_fields=["criteria_set"])
    _record("network.criteria_set_changed", "network", network.pk, None, by, at, [content["name"]])
    return row


@transaction.atomic
def clinic_change_settings(
    *,
    clinic: Clinic,
    procedure: Mapping[str, Any] | None,
    visit_defaults: Mapping[str, Any] | None,
    by: Actor,
    at: datetime,
) -> None:
    """Replace a clinic's procedure, its usual values, or both; ``None`` leaves one as it is.

    :raises SettingsInvalid: with every fault; nothing is changed then.
    """
    changed = []
    if procedure is not None:
        Procedure.from_json({**clinic.network.procedure, **procedure})
        clinic.procedure = dict(procedure)
        changed.append("procedure")
    if visit_defaults is not None:
        check_defaults(visit_defaults, at=at)
        clinic.visit_defaults = dict(visit_defaults)
        changed.append("visit_defaults")
    clinic.save(update_fields=changed)
    _record("clinic.settings_changed", "clinic", clinic.pk, clinic.pk, by, at, changed)


def check_defaults(defaults: Mapping[str, Any], *, at: datetime) -> None:
    """Try the defaults on a visit that is right without them.

    :raises SettingsInvalid: for a field that may have none, or a value that a visit may not have.
    """
    faults = [
        SettingFault(f"/{place}", "may_not_have_default")
        for place, path in enumerate(defaults)
        if path not in MAY_HAVE_DEFAULT
    ]
    if not faults:
        _, found = check_visit(
            _PROBE, directory=AnyCode(), today=at.date(), reduced=True, defaults=defaults
        )
        faults = [SettingFault(fault.pointer, fault.code) for fault in found]
    if faults:
        raise SettingsInvalid(faults)


_PROBE: Final[dict[str, Any]] = {
    "irrigations": [
        {"ear": ear, "stimulus": stimulus, "peak_spv": 20.0}
        for ear, stimulus in (("right", "warm"), ("left", "cool"))
    ]
}


def _record(
    action: str,
    kind: str,
    object_id: object,
    clinic_id: int | None,
    by: Actor,
    at: datetime,
    fields: list[str],
) -> None:
    record(
        action,
        by=by,
        at=at,
        clinic_id=clinic_id,
        object_kind=kind,
        object_id=object_id,
        detail={"fields": fields},
    )
