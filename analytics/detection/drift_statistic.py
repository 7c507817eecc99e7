"""A moving average of an irrigator's readings against its own mean, and how far it is off.

Many irrigators read on the same days go through at once (rows), which is what makes the limits
quick to simulate; one irrigator is one row. After each reading only what was known by then is
used: the noise, the own mean and the middle to which a misreading is pulled in.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.detection.drift_limits import EXPECTED, PRIOR_READINGS, Expected

Floats = NDArray[np.float64]
Places = NDArray[np.int64]

# A mean month of the Gregorian calendar.
DAYS_PER_MONTH: Final = 30.436875
# With fewer readings since the adjustment the own mean is too unsure to compare with.
FIRST_TESTED: Final = 6
# A reading further than this many SD from the irrigator's median is pulled in to there: one slip
# of the pen must not pass for a drift, and a step that stays still shows within two readings.
PULLED_IN_AT: Final = 4.0
# Two successive differences share a reading, so n of them tell as much as 2n/3 (derived).
_WORTH: Final = 2.0 / 3.0


@dataclass(frozen=True, slots=True)
class Smoothed:
    """After each reading, shape (irrigators, readings).

    ``own_mean`` and ``average`` in Cel; ``error`` is the standard error of ``average`` minus
    ``own_mean``; ``noise`` the SD of one reading as known by then. ``own_mean``, ``average`` and
    ``error`` are NaN before ``FIRST_TESTED`` readings.
    """

    own_mean: Floats
    average: Floats
    error: Floats
    noise: Floats

    def distance(self) -> Floats:
        """Average minus own mean in standard errors, NaN where there is none."""
        return (self.average - self.own_mean) / self.error


def smooth(
    deviation: Floats,
    days: Floats,
    *,
    thermometer: Places,
    weight: float,
    expected: Expected = EXPECTED,
) -> Smoothed:
    """Moving average and own mean of readings since one adjustment.

    Parameters
    ----------
    deviation
        Readings minus set temperature in Cel, shape (irrigators, readings), all finite.
    days
        Days of the readings, not falling, shape (readings,).
    thermometer
        Number of the reference thermometer of each, shape (readings,). Each thermometer has its
        own mean, so that a new thermometer does not pass for a drift.
    weight
        Of the newest reading in the average, 0 to 1.

    The error is that of the exact linear combination of readings, with noise, and with a wander
    whose correlation is halved every month (derived).
    """
    out = Smoothed(*(np.full(deviation.shape, np.nan) for _ in range(4)))
    out.noise[:] = reading_noise(deviation, thermometer, expected)
    together = wander_covariance(days, expected)
    for last in range(FIRST_TESTED - 1, deviation.shape[1]):
        upto = slice(0, last + 1)
        groups = thermometer[upto]
        newest, usual = _newest(last + 1, weight), _own_means(groups)
        pulled = _pulled_in(deviation[:, upto], groups, out.noise[:, last])
        out.average[:, last], out.own_mean[:, last] = pulled @ newest, pulled @ (newest @ usual)
        apart = newest - newest @ usual
        slow = max(float(apart @ together[upto, upto] @ apart), 0.0)
        out.error[:, last] = np.sqrt(out.noise[:, last] ** 2 * (apart @ apart) + slow)
    # A thermometer's first readings are their own mean: nothing to compare, not no difference.
    out.error[out.error < 1e-9] = np.nan
    return out


def reading_noise(deviation: Floats, thermometer: Places, expected: Expected) -> Floats:
    """SD of one reading as known after each, from successive differences, shape as given.

    Differences are of readings by one thermometer; those beyond four SD are cut to that, and the
    expected noise counts as ``PRIOR_READINGS`` readings. Never below what rounding alone does
    (a twelfth of the squared step).
    """
    prior = expected.reading_noise**2
    halves = np.zeros(deviation.shape)
    same = thermometer[1:] == thermometer[:-1]
    halves[:, 1:] = np.where(same, np.diff(deviation, axis=1) ** 2 / 2.0, 0.0)
    halves = np.minimum(halves, PULLED_IN_AT**2 * prior)
    known = _WORTH * np.concatenate([[0.0], np.cumsum(same)])
    total = PRIOR_READINGS * prior + _WORTH * np.cumsum(halves, axis=1)
    rounding = np.array([reading_step(row) for row in deviation])[:, None] ** 2 / 12.0
    return np.asarray(np.sqrt(np.maximum(total / (PRIOR_READINGS + known), rounding)))


def reading_step(deviation: Floats) -> float:
    """The coarsest of 1, 0.5, 0.2 and 0.1 Cel of which every reading is a multiple, else 0."""
    if not len(deviation):
        return 0.0
    for step in (1.0, 0.5, 0.2, 0.1):
        steps = deviation / step
        if np.all(np.abs(steps - np.round(steps)) < 1e-6):
            return step
    return 0.0


def wander_covariance(days: Floats, expected: Expected) -> Floats:
    """Covariance of the slow swing between readings, shape (readings, readings), in Cel²."""
    months = np.abs(days[:, None] - days[None, :]) / DAYS_PER_MONTH
    return np.asarray(expected.wander**2 * 0.5**months)


def _newest(count: int, weight: float) -> Floats:
    """Weights of the moving average after ``count`` readings; they add up to 1."""
    weights = (1.0 - weight) ** np.arange(count - 1, -1, -1.0)
    return np.asarray(weights / weights.sum())


def _own_means(groups: Places) -> Floats:
    """Matrix that puts each reading's thermometer mean in its place."""
    same = (groups[:, None] == groups[None, :]).astype(np.float64)
    return np.asarray(same / same.sum(axis=1, keepdims=True))


def _pulled_in(deviation: Floats, groups: Places, noise: Floats) -> Floats:
    pulled = deviation.copy()
    reach = PULLED_IN_AT * noise[:, None]
    for one in np.unique(groups):
        mine = groups == one
        middle = np.median(deviation[:, mine], axis=1, keepdims=True)
        pulled[:, mine] = np.clip(deviation[:, mine], middle - reach, middle + reach)
    return pulled
