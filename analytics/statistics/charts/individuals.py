"""Charts of single values and of their moving ranges (XmR).

NIST/SEMATECH e-Handbook 6.3.2.2; Montgomery, Introduction to Statistical Quality Control, 6.4.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analytics.statistics.charts.baseline import Baseline, baseline_flags, series
from analytics.statistics.charts.chart import (
    TOO_FEW_POINTS,
    Chart,
    chart_without_limits,
    limited_chart,
)
from analytics.statistics.charts.constants import D2, D4, WIDTH
from analytics.statistics.charts.run_rules import WESTERN_ELECTRIC, RuleSet, one_point_beyond

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# Values rounded so far that fewer distinct ranges occur give limits too narrow and lumpy to trust
# (rule of thumb, from memory).
FEWEST_DISTINCT_RANGES: Final = 4
FEW_DISTINCT_RANGES: Final = "few_distinct_moving_ranges"


@dataclass(frozen=True, slots=True, eq=False)
class IndividualsCharts:
    """The chart of the values and the one of how far each lies from the value before it."""

    values: Chart
    moving_ranges: Chart


@dataclass(frozen=True, slots=True)
class RangeEstimate:
    """Centre and SD of single values by their moving ranges, and how the ranges were.

    ``mean_range`` is that of the ranges kept; ``distinct`` counts how many different ones occur.
    """

    centre: float
    sigma: float
    mean_range: float
    screened_out: int
    distinct: int

    @property
    def notes(self) -> tuple[str, ...]:
        """What to be careful about."""
        return (FEW_DISTINCT_RANGES,) if self.distinct < FEWEST_DISTINCT_RANGES else ()


def individuals_charts(
    values: ArrayLike,
    *,
    baseline: Baseline = None,
    exclude: Sequence[int] = (),
    screen: bool = False,
    rule_set: RuleSet = WESTERN_ELECTRIC,
) -> IndividualsCharts:
    """Charts of values in the order they came, with limits mean +- 3 (mean range / 1.128).

    A moving range needs two neighbours: there is none at the first value, nor beside a missing
    one, and those of the baseline lie within it. With ``screen``, ranges above 3.267 times their
    mean are left out of it once, so that one far-off value does not hide itself.
    """
    points = series(values)
    flags = baseline_flags(points, baseline, exclude=exclude)
    found = estimate_by_ranges(points, flags, screen=screen)
    ranges = moving_ranges(points)
    if found is None:
        return IndividualsCharts(
            chart_without_limits("X", points, flags, rule_set, TOO_FEW_POINTS),
            chart_without_limits("mR", ranges, flags, one_point_beyond(), TOO_FEW_POINTS),
        )
    return IndividualsCharts(
        _chart_of_values(points, found, flags, rule_set), _chart_of_ranges(ranges, found, flags)
    )


def moving_ranges(points: ArrayLike) -> Floats:
    """How far each point lies from the one before it; NaN at the first and beside missing ones."""
    return np.abs(np.diff(series(points), prepend=np.nan))


def estimate_by_ranges(
    points: Floats, flags: Flags, *, screen: bool = False
) -> RangeEstimate | None:
    """Centre and SD of the points flagged as baseline; ``None`` without two neighbours there."""
    within = moving_ranges(np.where(flags, points, np.nan))
    ranges = within[np.isfinite(within)]
    if len(ranges) == 0:
        return None
    kept = ranges[ranges <= D4 * ranges.mean()] if screen else ranges
    return RangeEstimate(
        centre=float(points[flags].mean()),
        sigma=float(kept.mean()) / D2,
        mean_range=float(kept.mean()),
        screened_out=len(ranges) - len(kept),
        distinct=len(np.unique(np.round(ranges, 9))),
    )


def _chart_of_values(
    points: Floats, found: RangeEstimate, flags: Flags, rule_set: RuleSet
) -> Chart:
    return limited_chart(
        "X",
        points,
        centre=found.centre,
        sigma=found.sigma,
        baseline=flags,
        rule_set=rule_set,
        constants={"d2": D2},
        estimates={
            "mean": found.centre,
            "sigma": found.sigma,
            "mean_moving_range": found.mean_range,
            "screened_out": found.screened_out,
        },
        notes=found.notes,
    )


def _chart_of_ranges(ranges: Floats, found: RangeEstimate, flags: Flags) -> Chart:
    return limited_chart(
        "mR",
        ranges,
        centre=found.mean_range,
        sigma=found.mean_range * (D4 - 1) / WIDTH,
        baseline=flags,
        rule_set=one_point_beyond(),
        constants={"D4": D4},
        estimates={"mean_moving_range": found.mean_range, "screened_out": found.screened_out},
        floor=0.0,
        notes=found.notes,
    )
