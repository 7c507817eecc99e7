"""Has an irrigator drifted since it was last adjusted, how fast, and when will it be out?

Reads the deviations (reading minus set temperature) of one irrigator and one stimulus. Two rules
look for a change: the moving average of the readings against their own mean since the last
adjustment, beyond simulated limits; and the mean of a month beyond 0.30 Cel by three standard
errors, which needs no past. Whether a reading is within tolerance is another question, asked
elsewhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analytics.detection.drift_limits import EXPECTED, Expected, limit_at, smoothing_weight
from analytics.detection.drift_projection import Projection, project
from analytics.detection.drift_statistic import (
    DAYS_PER_MONTH,
    FIRST_TESTED,
    PULLED_IN_AT,
    Floats,
    Places,
    reading_noise,
    reading_step,
    smooth,
)
from analytics.detection.drift_thermometers import (
    ThermometerDifference,
    ThermometerReadings,
    by_thermometer,
    differences,
)

MONTH_BEYOND_C: Final = 0.30
MONTH_ERRORS: Final = 3.0
MONTH_FEWEST: Final = 2
# Fewer distinct moving ranges than this: read too coarsely (rule of thumb, from memory).
DISTINCT_RANGES_FROM: Final = 4
_RATE_OVER_MONTHS: Final = 6.0


@dataclass(frozen=True, slots=True)
class Signal:
    """A first reading at which a rule was met after an adjustment; nothing more until the next.

    ``rule``: ``moving_average`` or ``month_mean``. ``value`` and ``usual`` in Cel: the average
    and the own mean it is compared with, or the month's mean and 0. ``limit`` is the difference
    at which it signals; ``place`` counts the readings given, from 0.
    """

    place: int
    day: float
    rule: str
    value: float
    usual: float
    limit: float


@dataclass(frozen=True, slots=True)
class Course:
    """For a chart, one value a reading given, NaN where there is none, in Cel.

    ``limit`` is the distance from ``own_mean`` at which ``average`` signals; ``beyond`` says
    whether either rule is met.
    """

    average: Floats
    own_mean: Floats
    limit: Floats
    month_mean: Floats
    beyond: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """What the readings of one irrigator and stimulus say.

    Figures are of the time since the last adjustment. ``changed``: a rule was met in that time;
    ``signals`` are those of all times, oldest first. ``noise`` is the SD of one reading in Cel,
    ``readings_per_month`` of the last half year. ``whole_degrees``: the readings are whole
    degrees; ``read_coarsely``: fewer than four distinct moving ranges in at least six readings.
    ``reason`` is ``too_few_readings`` where the moving average cannot be compared yet.
    """

    readings: int
    since: float | None
    readings_per_month: float | None
    noise: float | None
    mean: float | None
    changed: bool
    signals: tuple[Signal, ...]
    projection: Projection
    thermometers: tuple[ThermometerReadings, ...]
    thermometer_differences: tuple[ThermometerDifference, ...]
    whole_degrees: bool
    read_coarsely: bool
    reason: str | None
    course: Course


def irrigator_drift(
    days: ArrayLike,
    deviation: ArrayLike,
    thermometer: ArrayLike | None = None,
    *,
    restarts: Sequence[float] = (),
    tolerance: float = 0.5,
    expected: Expected = EXPECTED,
) -> Drift:
    """Drift of one irrigator for one stimulus.

    Parameters
    ----------
    days
        Days of the readings since any epoch, not falling, shape (n,).
    deviation
        Reading minus set temperature in Cel; one that is not finite is passed over.
    thermometer
        Number of the reference thermometer of each reading; ``None``: one throughout.
    restarts
        Days on which it was adjusted, serviced, calibrated or replaced; a reading on the very
        day and moment counts as after it.
    tolerance
        Largest deviation allowed, Cel.

    Raises ``ValueError`` where shapes differ, a day is not finite or falls, or the tolerance is
    not above 0.
    """
    given = _checked(days, deviation, thermometer, tolerance)
    course, signals = _empty_course(len(given.days)), list[Signal]()
    part = given.at(np.empty(0, np.int64))
    for places in _between(given, restarts):
        part = given.at(places)
        signals += _follow(part, places, expected, course)
    return _described(
        part, _last_restart(given, restarts), tuple(signals), course, tolerance, expected
    )


@dataclass(frozen=True, slots=True)
class _Readings:
    days: Floats
    deviation: Floats
    thermometer: Places

    def at(self, places: Places) -> _Readings:
        return _Readings(self.days[places], self.deviation[places], self.thermometer[places])


def _checked(
    days: ArrayLike, deviation: ArrayLike, thermometer: ArrayLike | None, tolerance: float
) -> _Readings:
    day, value = np.asarray(days, np.float64), np.asarray(deviation, np.float64)
    numbers = np.zeros(day.shape, np.int64) if thermometer is None else np.asarray(thermometer)
    if day.ndim != 1 or not day.shape == value.shape == numbers.shape:
        raise ValueError(f"shapes differ: {day.shape}, {value.shape}, {numbers.shape}")
    if not np.isfinite(day).all() or (np.diff(day) < 0).any():
        raise ValueError("days must be finite and in order of time")
    if not tolerance > 0:
        raise ValueError(f"tolerance must be above 0, not {tolerance}")
    return _Readings(day, value, numbers.astype(np.int64))


def _empty_course(count: int) -> Course:
    nothing = np.full((4, count), np.nan)
    return Course(nothing[0], nothing[1], nothing[2], nothing[3], np.zeros(count, np.bool_))


def _between(given: _Readings, restarts: Sequence[float]) -> list[Places]:
    """Places of the finite readings between one restart and the next; the last may be empty."""
    part = np.searchsorted(np.sort(np.asarray(restarts, np.float64)), given.days, side="right")
    usable = np.isfinite(given.deviation)
    return [np.flatnonzero(usable & (part == one)) for one in range(len(restarts) + 1)]


def _last_restart(given: _Readings, restarts: Sequence[float]) -> float | None:
    if restarts:
        return float(max(restarts))
    return float(given.days[0]) if len(given.days) else None


def _follow(part: _Readings, places: Places, expected: Expected, course: Course) -> list[Signal]:
    """Fill the course of one time between adjustments; its first signal, if any."""
    if not len(places):
        return []
    rate = _rate(part.days)
    found = smooth(
        part.deviation[None, :],
        part.days,
        thermometer=part.thermometer,
        weight=smoothing_weight(rate),
        expected=expected,
    )
    limit = limit_at(rate) * found.error[0]
    mean, month_limit = month_means(part.deviation[None, :], part.days, found.noise)
    course.average[places], course.own_mean[places] = found.average[0], found.own_mean[0]
    course.limit[places], course.month_mean[places] = limit, mean[0]
    by_average = np.abs(found.average[0] - found.own_mean[0]) > limit
    by_month = np.abs(mean[0]) > month_limit[0]
    course.beyond[places] = by_average | by_month
    if not (by_average | by_month).any():
        return []
    first = int((by_average | by_month).argmax())
    figures = (
        (float(found.average[0, first]), float(found.own_mean[0, first]), float(limit[first]))
        if by_average[first]
        else (float(mean[0, first]), 0.0, float(month_limit[0, first]))
    )
    rule = "moving_average" if by_average[first] else "month_mean"
    return [Signal(int(places[first]), float(part.days[first]), rule, *figures)]


def month_means(deviation: Floats, days: Floats, noise: Floats) -> tuple[Floats, Floats]:
    """Mean of the month before each reading and how far from 0 it signals, Cel, shape as given.

    The limit is 0.30 Cel and three standard errors of the mean. Fewer than two readings in the
    month give NaN. Readings far from the middle one by size are pulled in, so that one slip of
    the pen is not a month.
    """
    mean, limit = np.full(deviation.shape, np.nan), np.full(deviation.shape, np.nan)
    first = np.searchsorted(days, days - DAYS_PER_MONTH, side="right")
    for last, start in enumerate(first):
        count = last + 1 - start
        if count >= MONTH_FEWEST:
            month = deviation[:, start : last + 1]
            # Of two the smaller: the larger must not speak for both.
            middle = np.argsort(np.abs(month), axis=1)[:, [(count - 1) // 2]]
            centre = np.take_along_axis(month, middle, axis=1)
            reach = PULLED_IN_AT * noise[:, [last]]
            mean[:, last] = np.clip(month, centre - reach, centre + reach).mean(axis=1)
            limit[:, last] = MONTH_BEYOND_C + MONTH_ERRORS * noise[:, last] / np.sqrt(count)
    return mean, limit


def _rate(days: Floats) -> float:
    """Readings a month over the last half year; one alone counts as one a month."""
    recent = days[days > days[-1] - _RATE_OVER_MONTHS * DAYS_PER_MONTH]
    span = float(np.ptp(recent)) / DAYS_PER_MONTH
    return 1.0 if len(recent) < 2 else (len(recent) - 1) / max(span, 1.0 / DAYS_PER_MONTH)


def _described(
    part: _Readings,
    since: float | None,
    signals: tuple[Signal, ...],
    course: Course,
    tolerance: float,
    expected: Expected,
) -> Drift:
    count = len(part.days)
    noise = (
        float(reading_noise(part.deviation[None, :], part.thermometer, expected)[0, -1])
        if count
        else None
    )
    spread = noise or expected.reading_noise
    ranges = np.unique(np.round(np.abs(np.diff(part.deviation)), 6))
    return Drift(
        readings=count,
        since=since,
        readings_per_month=_rate(part.days) if count > 1 else None,
        noise=noise,
        mean=float(part.deviation.mean()) if count else None,
        changed=bool(count and signals and signals[-1].day >= part.days[0]),
        signals=signals,
        projection=project(
            part.days, part.deviation, noise=spread, tolerance=tolerance, expected=expected
        ),
        thermometers=by_thermometer(part.deviation, part.thermometer),
        thermometer_differences=differences(
            part.days,
            part.deviation,
            thermometer=part.thermometer,
            noise=spread,
            expected=expected,
        ),
        whole_degrees=count >= FIRST_TESTED and reading_step(part.deviation) == 1.0,
        read_coarsely=count >= FIRST_TESTED and len(ranges) < DISTINCT_RANGES_FROM,
        reason="too_few_readings" if count < FIRST_TESTED else None,
        course=course,
    )
