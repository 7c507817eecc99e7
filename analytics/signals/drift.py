"""Drift of irrigators as signals: one a stimulus and time between adjustments."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from analytics.detection.drift import Drift
from analytics.detection.drift import Signal as DriftSignal
from analytics.rollups.irrigators import Readings, date_of
from analytics.signals.found import Found

MEASURE = "temperature_drift"


def drift_found(readings: Sequence[tuple[Readings, Drift]], *, until: date) -> list[Found]:
    """Each change that the readings up to ``until`` show, closed by the next adjustment."""
    return [
        _found(of, drift, signal)
        for of, drift in readings
        for signal in drift.signals
        if date_of(signal.day) <= until
    ]


def _found(of: Readings, drift: Drift, signal: DriftSignal) -> Found:
    opened = date_of(signal.day).replace(day=1)
    adjusted = next((day for day in of.restarts if day > signal.day), None)
    beyond = [
        date_of(day).replace(day=1)
        for at, day in enumerate(of.days)
        if drift.course.beyond[at] and day >= signal.day and (adjusted is None or day < adjusted)
    ]
    leaving = drift.projection.leaving
    return Found(
        clinic_id=of.clinic_id,
        subject_kind="irrigator",
        subject_id=of.irrigator_id,
        part=of.stimulus,
        measure=MEASURE,
        channel="drift",
        tier="please_review",
        direction="higher" if signal.value > signal.usual else "lower",
        opened=opened,
        closed=None if adjusted is None else max(date_of(adjusted).replace(day=1), opened),
        since=opened,
        last_beyond=max([opened, *beyond]),
        distance=None,
        evidence={
            "stimulus": of.stimulus,
            "readings": signal.place + 1,
            "rule": signal.rule,
            "value": signal.value,
            "expected": signal.usual,
            "limit": signal.limit,
            "tolerance": of.tolerance_c,
            "slope_per_month": drift.projection.slope.per_month,
            "leaves_tolerance_on": (
                None if leaving.day is None else date_of(leaving.day).isoformat()
            ),
            "read_coarsely": drift.read_coarsely,
        },
    )
