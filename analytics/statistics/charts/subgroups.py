"""Charts of the means and of the SDs of subgroups (X-bar and S).

Montgomery, Introduction to Statistical Quality Control, 6.3. Where sizes differ, the SDs are first
made comparable, s / c4(n), and weighted by how well each is known, c4^2 / (1 - c4^2) (derived:
the weights of least variance); with one size that is the textbook's mean s.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analytics.statistics.charts.baseline import Baseline, baseline_flags, series
from analytics.statistics.charts.chart import (
    NO_VARIATION,
    TOO_FEW_POINTS,
    Chart,
    chart_without_limits,
    limited_chart,
)
from analytics.statistics.charts.constants import a3, b3, b4, c4
from analytics.statistics.charts.run_rules import WESTERN_ELECTRIC, RuleSet, one_point_beyond

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class SubgroupCharts:
    """The chart of subgroup means and the one of subgroup SDs."""

    means: Chart
    sds: Chart


def subgroup_charts(
    means: ArrayLike,
    sds: ArrayLike,
    sizes: ArrayLike,
    *,
    baseline: Baseline = None,
    exclude: Sequence[int] = (),
    rule_set: RuleSet = WESTERN_ELECTRIC,
) -> SubgroupCharts:
    """Charts of subgroups given by mean, SD and number of values, one of each a subgroup.

    A subgroup of fewer than 2 values, or without mean or SD, is missing on both charts.

    :raises ValueError: for shapes that differ, or an SD below 0.
    """
    centres, spreads, n = _known(means, sds, sizes)
    flags = baseline_flags(centres, baseline, exclude=exclude)
    if not np.any(spreads[flags] > 0):
        reason = NO_VARIATION if flags.any() else TOO_FEW_POINTS
        return SubgroupCharts(
            chart_without_limits("X-bar", centres, flags, rule_set, reason),
            chart_without_limits("S", spreads, flags, one_point_beyond(), reason),
        )
    mean = float(np.average(centres[flags], weights=n[flags]))
    sigma = sigma_of_sds(spreads[flags], n[flags])
    return SubgroupCharts(
        _chart_of_means(centres, n, mean, sigma, flags, rule_set),
        _chart_of_sds(spreads, n, sigma, flags),
    )


def sigma_of_sds(sds: ArrayLike, sizes: ArrayLike) -> float:
    """SD of single values, from subgroup SDs and their sizes (2 or more)."""
    factor = c4(sizes)
    comparable = np.asarray(sds, dtype=np.float64) / factor
    return float(np.average(comparable, weights=factor**2 / (1 - factor**2)))


def _chart_of_means(
    centres: Floats, n: Floats, mean: float, sigma: float, flags: Flags, rule_set: RuleSet
) -> Chart:
    return limited_chart(
        "X-bar",
        centres,
        centre=mean,
        sigma=sigma / np.sqrt(n),
        baseline=flags,
        rule_set=rule_set,
        constants=_if_one_size(n, {"c4": c4, "A3": a3}),
        estimates={"mean": mean, "sigma": sigma},
    )


def _chart_of_sds(spreads: Floats, n: Floats, sigma: float, flags: Flags) -> Chart:
    factor = c4(n)
    return limited_chart(
        "S",
        spreads,
        centre=factor * sigma,
        sigma=sigma * np.sqrt(1 - factor**2),
        baseline=flags,
        rule_set=one_point_beyond(),
        constants=_if_one_size(n, {"c4": c4, "B3": b3, "B4": b4}),
        estimates={"sigma": sigma},
        floor=0.0,
    )


def _if_one_size(
    n: Floats, constants: dict[str, Callable[[ArrayLike], Floats]]
) -> dict[str, float]:
    """The constants of the size, where there is one: where sizes differ each point has its own."""
    sizes = np.unique(n[np.isfinite(n)])
    if len(sizes) != 1:
        return {}
    return {"n": float(sizes[0]), **{name: float(of(sizes[0])) for name, of in constants.items()}}


def _known(means: ArrayLike, sds: ArrayLike, sizes: ArrayLike) -> tuple[Floats, Floats, Floats]:
    columns = series(means), series(sds), series(sizes)
    if len({column.shape for column in columns}) > 1:
        raise ValueError(f"shapes differ: {[column.shape for column in columns]}")
    spreads = columns[1]
    if np.any(spreads < 0):
        raise ValueError(f"an SD is not below 0: {spreads[spreads < 0][0]}")
    known = np.all(np.isfinite(columns), axis=0) & (columns[2] >= 2)
    centres, spreads, n = (np.where(known, column, np.nan) for column in columns)
    return centres, spreads, n
