"""The invented network set up: agreement, criteria, clinics and their rosters."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.db import transaction

from registry.access.people import agreement_record, clinic_add, network_add
from registry.access.scope import Actor, clinic_scope
from registry.caloric.criteria import CriteriaSet
from registry.demo.scenario import Clinic as InventedClinic
from registry.demo.scenario import Scenario, day_date, first_day
from registry.models import Clinic, Irrigator, Network, Recorder, Tester, Thermometer
from registry.models import CriteriaSet as CriteriaRow
from registry.roster.devices import device_create
from registry.roster.testers import tester_create

DEMO_ACTOR = Actor(name="demo", role="operator", request_id="demo")


class NotADemo(Exception):
    """The database holds something that the demo did not make."""


def check_only_the_demo(scenario: Scenario) -> bool:
    """Whether the demo's network is here already.

    :raises NotADemo: if any other network is: invented results must never mix with real ones.
    """
    codes = set(Network.objects.values_list("code", flat=True))
    if codes - {scenario.network.code}:
        raise NotADemo
    return bool(codes)


@transaction.atomic
def network_set_up(scenario: Scenario, *, until: date, at: datetime) -> None:
    """Everything but results, in one transaction, so that a broken start leaves nothing half."""
    network = network_add(
        code=scenario.network.code, name=scenario.network.name, by=DEMO_ACTOR, at=at
    )
    terms = scenario.network.agreement
    agreement_record(
        network=network,
        controller=terms.controller,
        legal_basis=terms.legal_basis,
        terms=terms.terms,
        contact=terms.contact,
        in_force_from=first_day(until),
        in_force_to=None,
        by=DEMO_ACTOR,
        at=at,
    )
    network.criteria_set = _criteria(network, scenario.network.criteria.to_json(), at)
    network.save(update_fields=["criteria_set"])
    for clinic in scenario.clinics:
        _clinic(network, clinic, until=until, at=at)


def _criteria(network: Network, body: dict[str, Any], at: datetime) -> CriteriaRow:
    # Read and written again, so that the stored set holds every limit, not only its own.
    content = CriteriaSet.from_json(body).to_json()
    return CriteriaRow.objects.create(
        network=network,
        name=content["name"],
        version=content["version"],
        content=content,
        created_at=at,
        created_by=DEMO_ACTOR.name,
    )


def _clinic(network: Network, invented_one: InventedClinic, *, until: date, at: datetime) -> None:
    clinic = clinic_add(
        network=network,
        code=invented_one.code,
        name=invented_one.name,
        time_zone=invented_one.time_zone,
        by=DEMO_ACTOR,
        at=at,
    )
    clinic.procedure = invented_one.settings.procedure()
    clinic.save(update_fields=["procedure"])
    with clinic_scope([clinic.pk], by=DEMO_ACTOR):
        _testers(clinic, invented_one, until=until, at=at)
        _devices(clinic, invented_one, until=until, at=at)


def _testers(clinic: Clinic, of: InventedClinic, *, until: date, at: datetime) -> None:
    for one in of.testers:
        data = {
            "code": one.code,
            "experience_band": one.experience_band,
            "active_from": _day(until, one.first_day),
            "active_to": _day(until, one.last_day),
        }
        tester_create(clinic=clinic, data=_sent(data), by=DEMO_ACTOR, at=at)


def _devices(clinic: Clinic, of: InventedClinic, *, until: date, at: datetime) -> None:
    for irrigator in of.irrigators:
        data: dict[str, Any] = {
            "code": irrigator.code,
            "in_service_from": _day(until, irrigator.first_day),
            "retired_at": _day(until, irrigator.last_day),
        }
        device_create(Irrigator, clinic=clinic, data=_sent(data), by=DEMO_ACTOR, at=at)
    for recorder in of.recorders:
        device_create(Recorder, clinic=clinic, data={"code": recorder.code}, by=DEMO_ACTOR, at=at)
    for thermometer in of.thermometers:
        data = {
            "code": thermometer.code,
            "uncertainty_c": thermometer.uncertainty_c,
            "calibration_due": _day(until, thermometer.calibration_due_day),
        }
        device_create(Thermometer, clinic=clinic, data=_sent(data), by=DEMO_ACTOR, at=at)


def _day(until: date, day: int | None) -> str | None:
    return None if day is None else day_date(until, day).isoformat()


def _sent(data: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in data.items() if value is not None}


def tester_of(clinic: Clinic) -> Tester:
    """The first tester of a clinic, for the demo's tester account."""
    return Tester.objects.filter(clinic=clinic).order_by("code", "id")[0]
