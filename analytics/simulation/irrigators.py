"""Irrigators that drift and irrigators that do not: how early a drift is found, and how often
one is seen where there is none.

Everything here is simulated; reading noise and wander are assumptions (``drift_limits``).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from analytics.detection.drift import month_means
from analytics.detection.drift_limits import (
    EXPECTED,
    FALSE_PER_100_IRRIGATOR_YEARS,
    STIMULI,
    Expected,
    limit_at,
    smoothing_weight,
)
from analytics.detection.drift_statistic import DAYS_PER_MONTH, Smoothed, smooth

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

CLEAN_MONTHS: Final = 24
STEADY_MONTHS: Final = 12
DRIFT_PER_MONTH: Final = 0.1
TOLERANCE: Final = 0.5
LEAVES_AFTER_MONTHS: Final = TOLERANCE / DRIFT_PER_MONTH
_BLOCK: Final = 2_000


@dataclass(frozen=True, slots=True)
class DriftStudy:
    """What one rate of checks a month and stimulus reached.

    Shares are of drifting irrigators (a year steady, then 0.1 Cel a month), found at a reading
    before the true temperature leaves the tolerance; ``waiting`` is a reading beyond tolerance.
    ``months_ahead`` is the median of those found. False signals are of both stimuli together in
    two clean years; ``false_events`` is their number.
    """

    readings_per_month: int
    found: float
    found_waiting: float
    months_ahead: float | None
    false_per_100_irrigator_years: float
    false_waiting_per_100_irrigator_years: float
    false_events: int
    irrigators: int
    clean_irrigator_years: float


def drift_study(
    rates: Sequence[int] = (1, 2, 4, 8),
    seed: int = 0,
    irrigators: int = 2_000,
    *,
    step: float = 0.0,
    truth: Expected = EXPECTED,
    assumed: Expected = EXPECTED,
) -> tuple[DriftStudy, ...]:
    """Each rate's share found in time and false signals.

    ``irrigators`` drift in one stimulus and as many are clean in both; ``step`` rounds the
    readings (1.0: whole degrees); ``truth`` is what they do, ``assumed`` what the rules expect.
    """
    rng = np.random.default_rng(seed)
    return tuple(_study(rng, rate, irrigators, step, truth, assumed) for rate in rates)


def simulate_limit(readings_per_month: int, *, seed: int, series: int) -> float:
    """Limit in standard errors for one rate, from ``series`` clean series of two years."""
    rng = np.random.default_rng(seed)
    days = reading_days(rng, readings_per_month, CLEAN_MONTHS)
    furthest = np.concatenate(
        [
            np.nanmax(np.abs(_distance(draw, days, readings_per_month, EXPECTED)), axis=1)
            for draw in _draws(rng, days, series, EXPECTED)
        ]
    )
    years = CLEAN_MONTHS / 12.0
    return float(
        np.quantile(furthest, 1.0 - FALSE_PER_100_IRRIGATOR_YEARS / 100.0 * years / STIMULI)
    )


def reading_days(rng: np.random.Generator, readings_per_month: int, months: int) -> Floats:
    """Evenly spaced days from a random start within the first interval."""
    count = readings_per_month * months
    return np.asarray(
        (np.arange(count) + rng.random()) / readings_per_month * DAYS_PER_MONTH, np.float64
    )


def draw_readings(
    rng: np.random.Generator, days: Floats, irrigators: int, spread: Expected = EXPECTED
) -> Floats:
    """Deviations in Cel of irrigators without a drift, shape (irrigators, readings).

    Noise from reading to reading and a wander that forgets half of itself in a month; ``days``
    must be evenly spaced.
    """
    shape = (irrigators, len(days))
    kept = 0.5 ** ((days[1] - days[0]) / DAYS_PER_MONTH) if len(days) > 1 else 0.0
    pushes = rng.standard_normal(shape) * np.sqrt(1.0 - kept**2)
    pushes[:, 0] = rng.standard_normal(irrigators)
    wander = lfilter([1.0], [1.0, -kept], pushes, axis=1)
    return np.asarray(
        spread.wander * wander + spread.reading_noise * rng.standard_normal(shape), np.float64
    )


def _study(
    rng: np.random.Generator,
    rate: int,
    irrigators: int,
    step: float,
    truth: Expected,
    assumed: Expected,
) -> DriftStudy:
    found, waiting, ahead = [], [], []
    # Blocks of 50 share their days, so that the first reading after the start falls anywhere.
    for _ in range(0, irrigators, 50):
        days = reading_days(rng, rate, STEADY_MONTHS + int(LEAVES_AFTER_MONTHS))
        drifting = np.clip(days / DAYS_PER_MONTH - STEADY_MONTHS, 0.0, None) * DRIFT_PER_MONTH
        readings = _rounded(draw_readings(rng, days, 50, truth) + drifting, step)
        in_drift = days / DAYS_PER_MONTH >= STEADY_MONTHS
        signals = _signals(readings, days, rate, assumed) & in_drift
        found.append(signals.any(axis=1))
        waiting.append(((np.abs(readings) > TOLERANCE) & in_drift).any(axis=1))
        left = STEADY_MONTHS + LEAVES_AFTER_MONTHS - days[signals.argmax(axis=1)] / DAYS_PER_MONTH
        ahead.append(left[found[-1]])
    false, false_waiting = _false_signals(rng, rate, irrigators * STIMULI, step, truth, assumed)
    years = irrigators * CLEAN_MONTHS / 12.0
    months = np.concatenate(ahead)
    return DriftStudy(
        readings_per_month=rate,
        found=float(np.concatenate(found).mean()),
        found_waiting=float(np.concatenate(waiting).mean()),
        months_ahead=float(np.median(months)) if len(months) else None,
        false_per_100_irrigator_years=100.0 * false / years,
        false_waiting_per_100_irrigator_years=100.0 * false_waiting / years,
        false_events=false,
        irrigators=len(found) * 50,
        clean_irrigator_years=years,
    )


def _false_signals(
    rng: np.random.Generator,
    rate: int,
    series: int,
    step: float,
    truth: Expected,
    assumed: Expected,
) -> tuple[int, int]:
    """Clean series with a signal, and with a reading beyond tolerance."""
    days = reading_days(rng, rate, CLEAN_MONTHS)
    by_rules = by_waiting = 0
    for draw in _draws(rng, days, series, truth):
        readings = _rounded(draw, step)
        by_rules += int(_signals(readings, days, rate, assumed).any(axis=1).sum())
        by_waiting += int((np.abs(readings) > TOLERANCE).any(axis=1).sum())
    return by_rules, by_waiting


def _draws(
    rng: np.random.Generator, days: Floats, series: int, spread: Expected
) -> Iterator[Floats]:
    for done in range(0, series, _BLOCK):
        yield draw_readings(rng, days, min(_BLOCK, series - done), spread)


def _signals(readings: Floats, days: Floats, rate: int, assumed: Expected) -> Flags:
    """Whether either rule is met after each reading: what ``irrigator_drift`` asks, in bulk."""
    found = _smoothed(readings, days, rate, assumed)
    mean, limit = month_means(readings, days, found.noise)
    return np.asarray(
        (np.abs(found.distance()) > limit_at(rate)) | (np.abs(mean) > limit), np.bool_
    )


def _distance(readings: Floats, days: Floats, rate: int, assumed: Expected) -> Floats:
    return _smoothed(readings, days, rate, assumed).distance()


def _smoothed(readings: Floats, days: Floats, rate: int, assumed: Expected) -> Smoothed:
    return smooth(
        readings,
        days,
        thermometer=np.zeros(len(days), np.int64),
        weight=smoothing_weight(rate),
        expected=assumed,
    )


def _rounded(readings: Floats, step: float) -> Floats:
    return np.round(readings / step) * step if step else readings
