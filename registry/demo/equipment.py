"""What happens to the irrigators and recorders of a clinic, test by test of temperature."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

import numpy as np

from registry.demo.diary import working_days
from registry.demo.faults import FAILED_CHECK
from registry.demo.scenario import DAYS, SEED, Clinic, Irrigator, Scenario, day_date
from registry.demo.streams import stream
from registry.demo.temperatures import READING_NOISE_C, offset_c

Document = dict[str, Any]

_MISSED_SHARE: Final = 0.03
_BEFORE_OPENING: Final = 7 * 60 + 15
_AFTER_CLOSING: Final = 19 * 60


def temperature_checks(
    scenario: Scenario, clinic: Clinic, *, until: date, seed: int = SEED
) -> list[Document]:
    """Every reading of every irrigator against a thermometer, in order of time.

    Daily or each Monday, by the clinic's policy, warm and cool; a few are missed.
    """
    rng = stream(scenario, clinic, "checks", seed)
    days = working_days(until)
    if clinic.settings.temperature_checks == "weekly":
        weekday = (day_date(until, 0).weekday() + days) % 7
        days = days[weekday == 0]
    checks: list[Document] = []
    for place, irrigator in enumerate(clinic.irrigators):
        done = days[[irrigator.in_use(int(day)) for day in days]]
        kept = done[rng.random(len(done)) >= _MISSED_SHARE]
        if irrigator.code == FAILED_CHECK.irrigator:
            kept = _with_last_check(kept, done, working_days(until))
        checks += _of_irrigator(rng, clinic, irrigator, kept, place, until)
    return sorted(checks, key=lambda check: (check["checked_at"], check["irrigator"]))


def _with_last_check(
    kept: np.ndarray[Any, Any], due: np.ndarray[Any, Any], workdays: np.ndarray[Any, Any]
) -> np.ndarray[Any, Any]:
    """Keep every check of the fault's days, and add the one after which it was removed."""
    last = workdays[workdays <= FAILED_CHECK.last_day][-1]
    return np.union1d(kept, [*due[due >= FAILED_CHECK.first_day], last])


def _of_irrigator(
    rng: np.random.Generator,
    clinic: Clinic,
    irrigator: Irrigator,
    days: np.ndarray[Any, Any],
    place: int,
    until: date,
) -> list[Document]:
    zone = ZoneInfo(clinic.time_zone)
    thermometer = clinic.thermometers[place % len(clinic.thermometers)].code
    offsets = offset_c(irrigator, days)
    noise = rng.normal(0.0, READING_NOISE_C, (len(days), 2))
    documents: list[Document] = []
    for day, offset, readings in zip(days.tolist(), offsets.tolist(), noise, strict=True):
        removed = irrigator.code == FAILED_CHECK.irrigator and day == days[-1]
        minute = (_AFTER_CLOSING if removed else _BEFORE_OPENING) + 8 * place
        for stimulus, error in zip(("warm", "cool"), readings.tolist(), strict=True):
            documents.append(
                _check(irrigator, stimulus, offset + error, thermometer)
                | {
                    "checked_at": _at(zone, until, day, minute),
                    "action": "removed" if removed else "none",
                }
            )
            minute += 3
    return documents


def _check(irrigator: Irrigator, stimulus: str, error_c: float, thermometer: str) -> Document:
    delivery = irrigator.delivery
    set_c = delivery.warm_c if stimulus == "warm" else delivery.cool_c
    check: Document = {
        "irrigator": irrigator.code,
        "stimulus": stimulus,
        "set_temperature_c": set_c,
        "reading_c": round(set_c + error_c, 1),
        "thermometer": thermometer,
        "measured_at": "cup" if delivery.medium == "water_open" else "nozzle",
        "phase": "as_found",
    }
    if delivery.flow_l_min is not None:
        check["flow_l_min"] = delivery.flow_l_min
    return check


def equipment_events(
    scenario: Scenario, clinic: Clinic, *, until: date, seed: int = SEED
) -> list[Document]:
    """What was done to irrigators and recorders, in order of time.

    Each names an ``irrigator`` or a ``recorder``, the ``event`` and when it ``happened_at``.
    """
    rng = stream(scenario, clinic, "events", seed)
    zone = ZoneInfo(clinic.time_zone)
    events: list[Document] = []
    for irrigator in clinic.irrigators:
        for event, day in _irrigator_days(rng, irrigator):
            at = _at(zone, until, day, _AFTER_CLOSING + 20)
            events.append({"irrigator": irrigator.code, "event": event, "happened_at": at})
    for recorder in clinic.recorders:
        at = _at(zone, until, int(rng.integers(60, DAYS - 30)), _AFTER_CLOSING)
        events.append({"recorder": recorder.code, "event": "software_updated", "happened_at": at})
    return sorted(events, key=lambda event: str(event["happened_at"]))


def _irrigator_days(rng: np.random.Generator, irrigator: Irrigator) -> list[tuple[str, int]]:
    """A calibration a year, a change of nozzle, and the replacement of one taken away."""
    first = int(rng.integers(30, 200))
    planned = [
        ("calibrated", first),
        ("calibrated", first + 365),
        ("nozzle_changed", int(rng.integers(200, 500))),
    ]
    days = [(event, day) for event, day in planned if irrigator.in_use(day)]
    if irrigator.last_day is not None:
        days.append(("replaced", irrigator.last_day))
    return days


def _at(zone: ZoneInfo, until: date, day: int, minute: int) -> str:
    local = datetime.combine(day_date(until, day), datetime.min.time(), tzinfo=zone)
    return (local + timedelta(minutes=minute)).isoformat(timespec="seconds")
