"""The chart of the exponentially weighted moving average, for slow drifts.

NIST/SEMATECH e-Handbook 6.3.2.4; Montgomery, Introduction to Statistical Quality Control, 9.2.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from analytics.statistics.charts.baseline import Baseline, baseline_flags, series
from analytics.statistics.charts.chart import (
    TOO_FEW_POINTS,
    Chart,
    chart_without_limits,
    limited_chart,
)
from analytics.statistics.charts.constants import WIDTH
from analytics.statistics.charts.individuals import estimate_by_ranges
from analytics.statistics.charts.run_rules import one_point_beyond

Floats = NDArray[np.float64]


def ewma(values: ArrayLike, *, weight: float, start: float) -> Floats:
    """e = weight x + (1 - weight) e before, beginning with ``start``.

    A missing value has no e, and the next one goes on from the last there was.

    :raises ValueError: for a weight not above 0 and up to 1.
    """
    if not 0 < weight <= 1:
        raise ValueError(f"a weight lies above 0 and up to 1: {weight}")
    points = series(values)
    led = pd.Series(np.concatenate([[start], points]))
    smoothed = led.ewm(alpha=weight, adjust=False, ignore_na=True).mean().to_numpy(dtype=float)
    return np.where(np.isfinite(points), smoothed[1:], np.nan)


def ewma_sd(values: ArrayLike, *, weight: float, sigma: float) -> Floats:
    """Standard deviation of e at each point, for values of standard deviation ``sigma``.

    sigma root(weight / (2 - weight) (1 - (1 - weight)^(2 t))) at the t-th value there is: the
    first limits are narrow, and soon they stand still.
    """
    t = np.cumsum(np.isfinite(series(values)))
    grown = 1 - (1 - weight) ** (2 * t)
    spread: Floats = sigma * np.sqrt(weight / (2 - weight) * grown)
    return spread


def ewma_chart(
    values: ArrayLike,
    *,
    weight: float = 0.2,
    centre: float | None = None,
    sigma: float | None = None,
    width: float = WIDTH,
    baseline: Baseline = None,
    exclude: Sequence[int] = (),
) -> Chart:
    """Moving averages of values, with limits that are exact at every point.

    ``centre`` and ``sigma`` (of single values) are those of the baseline, by its moving ranges,
    unless they are given. ``steady_lower`` and ``steady_upper``, among the estimates, are what the
    limits come to in the end.

    :raises ValueError: for a weight not above 0 and up to 1, or a sigma not above 0.
    """
    if sigma is not None and not sigma > 0:
        raise ValueError(f"sigma is above 0: {sigma}")
    points = series(values)
    flags = baseline_flags(points, baseline, exclude=exclude)
    rule_set = one_point_beyond(width)
    found = estimate_by_ranges(points, flags)
    middle = found.centre if centre is None and found is not None else centre
    spread = found.sigma if sigma is None and found is not None else sigma
    if middle is None or spread is None:
        return chart_without_limits("EWMA", points, flags, rule_set, TOO_FEW_POINTS)
    steady = width * spread * (weight / (2 - weight)) ** 0.5
    return limited_chart(
        "EWMA",
        ewma(points, weight=weight, start=middle),
        centre=middle,
        sigma=ewma_sd(points, weight=weight, sigma=spread),
        baseline=flags,
        rule_set=rule_set,
        constants={"weight": weight},
        estimates={
            "mean": middle,
            "sigma": spread,
            "steady_lower": middle - steady,
            "steady_upper": middle + steady,
        },
        width=width,
        given=centre is not None and sigma is not None,
    )
