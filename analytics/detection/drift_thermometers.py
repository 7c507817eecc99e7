"""Do two reference thermometers agree on one irrigator?"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.detection.drift_limits import EXPECTED, Expected
from analytics.detection.drift_statistic import DAYS_PER_MONTH, wander_covariance

Floats = NDArray[np.float64]
Places = NDArray[np.int64]

FEWEST_EACH: Final = 3
# Both must have been used back and forth, else a change of the irrigator looks the same.
FEWEST_SWITCHES: Final = 2
_NORMAL_95: Final = 1.959963984540054
_NORMAL_998: Final = 3.090232306167813


@dataclass(frozen=True, slots=True)
class ThermometerReadings:
    """Readings of one thermometer since the adjustment: how many, and their mean in Cel."""

    thermometer: int
    readings: int
    mean: float


@dataclass(frozen=True, slots=True)
class ThermometerDifference:
    """What ``other`` reads more than ``one`` on the same irrigator, in Cel, with 95 % interval.

    ``differs``: by more than 3.09 standard errors, so that it is the thermometers' and not the
    irrigator's. Without a figure: ``too_few_readings``, or ``not_used_in_turn`` (they were used
    one after the other, so a change of the irrigator would look the same).
    """

    one: int
    other: int
    difference: float | None = None
    low: float | None = None
    high: float | None = None
    differs: bool = False
    reason: str | None = None


def by_thermometer(deviation: Floats, thermometer: Places) -> tuple[ThermometerReadings, ...]:
    """Number and mean of each thermometer's readings, in order of their numbers."""
    return tuple(
        ThermometerReadings(
            int(one), int((at := thermometer == one).sum()), float(deviation[at].mean())
        )
        for one in np.unique(thermometer)
    )


def differences(
    days: Floats,
    deviation: Floats,
    *,
    thermometer: Places,
    noise: float,
    expected: Expected = EXPECTED,
) -> tuple[ThermometerDifference, ...]:
    """Every thermometer against the one used most, allowing for a steady drift of the irrigator.

    Generalised least squares with a straight line in time beside the difference; the noise and
    the wander are those of ``drift_limits`` (derived).
    """
    used, counts = np.unique(thermometer, return_counts=True)
    if len(used) < 2:
        return ()
    main = used[counts.argmax()]
    found = []
    for other in used[used != main]:
        both = (thermometer == main) | (thermometer == other)
        found.append(
            _difference(
                days[both],
                deviation[both],
                thermometer[both],
                (int(main), int(other)),
                noise,
                expected,
            )
        )
    return tuple(found)


def _difference(
    days: Floats,
    deviation: Floats,
    thermometer: Places,
    pair: tuple[int, int],
    noise: float,
    expected: Expected,
) -> ThermometerDifference:
    is_other = thermometer == pair[1]
    if min(is_other.sum(), (~is_other).sum()) < FEWEST_EACH:
        return ThermometerDifference(*pair, reason="too_few_readings")
    if np.count_nonzero(np.diff(is_other)) < FEWEST_SWITCHES:
        return ThermometerDifference(*pair, reason="not_used_in_turn")
    month = (days - days.mean()) / DAYS_PER_MONTH
    design = np.column_stack([is_other.astype(np.float64), np.ones(len(days)), month])
    # All readings on one day leave no slope to fit.
    design = design if np.ptp(days) > 0 else design[:, :2]
    spread = noise**2 * np.eye(len(days)) + wander_covariance(days, expected)
    weighted = np.linalg.solve(spread, design)
    covariance = np.linalg.pinv(design.T @ weighted)
    value = float((covariance @ weighted.T @ deviation)[0])
    error = math.sqrt(covariance[0, 0])
    margin = _NORMAL_95 * error
    return ThermometerDifference(
        *pair, value, value - margin, value + margin, abs(value) > _NORMAL_998 * error
    )
