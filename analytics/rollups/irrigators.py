"""The readings of irrigators in order of time, and what they say about drift."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any, Final
from uuid import UUID

import numpy as np

from analytics.detection.drift import Drift, irrigator_drift
from registry.models import EquipmentEvent, TemperatureCheck

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
# Done to an irrigator, these may change what it delivers: its readings begin anew.
_RESTARTING_EVENTS: Final = ("calibrated", "serviced", "nozzle_changed", "replaced")
_RESTARTING_ACTIONS: Final = ("adjusted", "serviced")
# A reading as found belongs to the time before the adjustment made at that very check.
_JUST_AFTER: Final = 1e-6


@dataclass(frozen=True, slots=True)
class Readings:
    """One irrigator and stimulus: days since 1970 (UTC), deviation from the set value in Cel."""

    clinic_id: int
    irrigator_id: UUID
    stimulus: str
    days: list[float]
    deviations: list[float]
    thermometers: list[int]
    thermometer_ids: list[UUID | None]
    restarts: list[float]
    tolerance_c: float
    set_temperature_c: float

    def drift(self) -> Drift:
        return irrigator_drift(
            np.array(self.days),
            np.array(self.deviations),
            np.array(self.thermometers, dtype=np.int64),
            restarts=self.restarts,
            tolerance=self.tolerance_c,
        )


def readings_of(clinic_id: int, irrigator_ids: Iterable[UUID] | None = None) -> list[Readings]:
    """The readings in force of a clinic's irrigators, in the scope that is open."""
    checks = TemperatureCheck.objects.filter(clinic_id=clinic_id, withdrawn_at=None)
    events = EquipmentEvent.objects.filter(
        clinic_id=clinic_id, irrigator_id__isnull=False, kind__in=_RESTARTING_EVENTS
    )
    if irrigator_ids is not None:
        wanted = list(irrigator_ids)
        checks = checks.filter(irrigator_id__in=wanted)
        events = events.filter(irrigator_id__in=wanted)
    restarts: dict[UUID, list[float]] = {}
    for irrigator_id, moment in events.values_list("irrigator_id", "happened_at"):
        if irrigator_id is not None:
            restarts.setdefault(irrigator_id, []).append(_day(moment))
    groups: dict[tuple[UUID, str], list[TemperatureCheck]] = {}
    for check in checks.order_by("irrigator_id", "stimulus", "checked_at", "id"):
        groups.setdefault((check.irrigator_id, check.stimulus), []).append(check)
    return [
        _readings(clinic_id, irrigator_id, stimulus, group, restarts.get(irrigator_id, []))
        for (irrigator_id, stimulus), group in groups.items()
    ]


def _readings(
    clinic_id: int,
    irrigator_id: UUID,
    stimulus: str,
    checks: Sequence[TemperatureCheck],
    restarts: Sequence[float],
) -> Readings:
    ids = list(dict.fromkeys(check.thermometer_id for check in checks))
    return Readings(
        clinic_id=clinic_id,
        irrigator_id=irrigator_id,
        stimulus=stimulus,
        days=[_day(check.checked_at) for check in checks],
        deviations=[check.reading_c - check.set_temperature_c for check in checks],
        thermometers=[ids.index(check.thermometer_id) for check in checks],
        thermometer_ids=ids,
        restarts=sorted({*restarts, *_adjustments(checks)}),
        tolerance_c=checks[-1].tolerance_c,
        set_temperature_c=checks[-1].set_temperature_c,
    )


def _adjustments(checks: Sequence[TemperatureCheck]) -> list[float]:
    return [
        _day(check.checked_at) + (0.0 if check.phase == "as_left" else _JUST_AFTER)
        for check in checks
        if check.action in _RESTARTING_ACTIONS
    ]


def _day(moment: datetime) -> float:
    return (moment - _EPOCH) / timedelta(days=1)


def date_of(day: float) -> date:
    """The date (UTC) of a day counted from 1970."""
    return (_EPOCH + timedelta(days=day)).date()


def drift_json(readings: Readings, drift: Drift) -> dict[str, Any]:
    """What an irrigator's page shows of one stimulus; plain numbers and dates."""
    slope, leaving = drift.projection.slope, drift.projection.leaving
    return {
        "stimulus": readings.stimulus,
        "set_temperature_c": readings.set_temperature_c,
        "tolerance_c": readings.tolerance_c,
        "readings": drift.readings,
        "readings_ever": len(readings.days),
        "since": _date(drift.since),
        "readings_per_month": drift.readings_per_month,
        "noise_c": drift.noise,
        "mean_c": drift.mean,
        "changed": drift.changed,
        "slope_c_per_month": slope.per_month,
        "slope_low": slope.low,
        "slope_high": slope.high,
        "slope_reason": slope.reason,
        "leaves_tolerance_on": _date(leaving.day),
        "leaves_earliest": _date(leaving.earliest),
        "leaves_latest": _date(leaving.latest),
        "leaves_reason": leaving.reason,
        "whole_degrees": drift.whole_degrees,
        "read_coarsely": drift.read_coarsely,
        "reason": drift.reason,
        "thermometers": [
            {
                "thermometer_id": _id(readings.thermometer_ids[one.thermometer]),
                "readings": one.readings,
                "mean_c": one.mean,
            }
            for one in drift.thermometers
        ],
        "thermometer_differences": [
            {
                "one": _id(readings.thermometer_ids[one.one]),
                "other": _id(readings.thermometer_ids[one.other]),
                "difference_c": one.difference,
                "low": one.low,
                "high": one.high,
                "differs": one.differs,
                "reason": one.reason,
            }
            for one in drift.thermometer_differences
        ],
        "course": _course(readings, drift),
    }


def _course(readings: Readings, drift: Drift) -> dict[str, list[Any]]:
    """The chart's columns; the last two years are enough for any page."""
    first = next((at for at, day in enumerate(readings.days) if day >= readings.days[-1] - 731), 0)
    course = drift.course
    return {
        "on": [date_of(day).isoformat() for day in readings.days[first:]],
        "deviation_c": [round(one, 4) for one in readings.deviations[first:]],
        "average_c": _numbers(course.average[first:]),
        "usual_c": _numbers(course.own_mean[first:]),
        "limit_c": _numbers(course.limit[first:]),
        "beyond": [bool(one) for one in course.beyond[first:]],
    }


def _numbers(values: np.ndarray[Any, Any]) -> list[float | None]:
    return [round(float(one), 4) if np.isfinite(one) else None for one in values]


def _date(day: float | None) -> str | None:
    return None if day is None else date_of(day).isoformat()


def _id(one: UUID | None) -> str | None:
    return None if one is None else str(one)
