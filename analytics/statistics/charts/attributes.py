"""Charts of shares and counts: p, c, u, and Laney's p' and u' for many trials a point.

Montgomery, Introduction to Statistical Quality Control, chapter 7; Laney, Quality Engineering
2002;14:531-537. Limits do not pass 0, nor those of shares 1.
"""

from __future__ import annotations

from collections.abc import Sequence
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
from analytics.statistics.charts.constants import D2
from analytics.statistics.charts.individuals import moving_ranges
from analytics.statistics.charts.run_rules import WESTERN_ELECTRIC, RuleSet

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class _Counts:
    kind: str
    points: Floats
    sizes: Floats
    flags: Flags
    centre: float | None
    ceiling: float

    @property
    def sigma(self) -> Floats:
        """What chance alone gives each point: binomial for shares, Poisson for counts."""
        centre = self.centre or 0.0
        spread = centre * (1 - centre) if self.ceiling == 1 else centre
        return np.sqrt(spread / self.sizes)


def p_chart(
    events: ArrayLike,
    sizes: ArrayLike,
    *,
    baseline: Baseline = None,
    exclude: Sequence[int] = (),
    rule_set: RuleSet = WESTERN_ELECTRIC,
) -> Chart:
    """Shares events / sizes, limits p +- 3 root(p (1 - p) / n).

    :raises ValueError: for counts that cannot be.
    """
    return _chance_chart(_shares("p", events, sizes, baseline, exclude), rule_set)


def c_chart(
    counts: ArrayLike,
    *,
    baseline: Baseline = None,
    exclude: Sequence[int] = (),
    rule_set: RuleSet = WESTERN_ELECTRIC,
) -> Chart:
    """Counts over equal stretches, limits c +- 3 root c."""
    ones = np.ones(np.shape(counts))
    return _chance_chart(_rates("c", counts, ones, baseline, exclude), rule_set)


def u_chart(
    counts: ArrayLike,
    sizes: ArrayLike,
    *,
    baseline: Baseline = None,
    exclude: Sequence[int] = (),
    rule_set: RuleSet = WESTERN_ELECTRIC,
) -> Chart:
    """Counts per unit of size, limits u +- 3 root(u / n)."""
    return _chance_chart(_rates("u", counts, sizes, baseline, exclude), rule_set)


def laney_p_chart(
    events: ArrayLike,
    sizes: ArrayLike,
    *,
    baseline: Baseline = None,
    exclude: Sequence[int] = (),
    rule_set: RuleSet = WESTERN_ELECTRIC,
    d2: float = D2,
) -> Chart:
    """Shares with limits p +- 3 sigma_z root(p (1 - p) / n), for many trials a point.

    ``sigma_z`` (among the estimates) is the mean moving range of the standardised shares over d2:
    1 where months differ by chance alone, above 1 where they differ by more.
    """
    return _laney_chart(_shares("p'", events, sizes, baseline, exclude), rule_set, d2)


def laney_u_chart(
    counts: ArrayLike,
    sizes: ArrayLike,
    *,
    baseline: Baseline = None,
    exclude: Sequence[int] = (),
    rule_set: RuleSet = WESTERN_ELECTRIC,
    d2: float = D2,
) -> Chart:
    """Counts per unit of size with limits u +- 3 sigma_z root(u / n), for many counts a point."""
    return _laney_chart(_rates("u'", counts, sizes, baseline, exclude), rule_set, d2)


def _chance_chart(given: _Counts, rule_set: RuleSet) -> Chart:
    if given.centre is None:
        return _without_limits(given, rule_set, TOO_FEW_POINTS)
    return _limited(given, given.sigma, rule_set, {}, {"mean": given.centre})


def _laney_chart(given: _Counts, rule_set: RuleSet, d2: float) -> Chart:
    sigma = given.sigma
    if given.centre is None:
        return _without_limits(given, rule_set, TOO_FEW_POINTS)
    if not np.any(sigma > 0):
        return _without_limits(given, rule_set, NO_VARIATION)
    z = (given.points - given.centre) / sigma
    ranges = moving_ranges(np.where(given.flags, z, np.nan))
    if not np.isfinite(ranges).any():
        return _without_limits(given, rule_set, TOO_FEW_POINTS)
    sigma_z = float(np.nanmean(ranges)) / d2
    estimates = {"mean": given.centre, "sigma_z": sigma_z}
    return _limited(given, sigma * sigma_z, rule_set, {"d2": d2}, estimates)


def _limited(
    given: _Counts,
    sigma: Floats,
    rule_set: RuleSet,
    constants: dict[str, float],
    estimates: dict[str, float],
) -> Chart:
    return limited_chart(
        given.kind,
        given.points,
        centre=given.centre or 0.0,
        sigma=sigma,
        baseline=given.flags,
        rule_set=rule_set,
        constants=constants,
        estimates=estimates,
        floor=0.0,
        ceiling=given.ceiling,
    )


def _without_limits(given: _Counts, rule_set: RuleSet, reason: str) -> Chart:
    return chart_without_limits(given.kind, given.points, given.flags, rule_set, reason)


def _shares(
    kind: str, events: ArrayLike, sizes: ArrayLike, baseline: Baseline, exclude: Sequence[int]
) -> _Counts:
    r, n = series(events), series(sizes)
    if r.shape == n.shape and np.any(r > n):
        raise ValueError(f"more events than there are: {r[r > n][0]:g} of {n[r > n][0]:g}")
    return _counts(kind, r, n, baseline, exclude, ceiling=1.0)


def _rates(
    kind: str, counts: ArrayLike, sizes: ArrayLike, baseline: Baseline, exclude: Sequence[int]
) -> _Counts:
    return _counts(kind, series(counts), series(sizes), baseline, exclude, ceiling=np.inf)


def _counts(
    kind: str, r: Floats, n: Floats, baseline: Baseline, exclude: Sequence[int], *, ceiling: float
) -> _Counts:
    if r.shape != n.shape:
        raise ValueError(f"as many counts as sizes were wanted: {r.shape} and {n.shape}")
    if np.any(r < 0) or np.any(n < 0):
        raise ValueError(f"a count or size is not below 0: {np.nanmin([r, n])}")
    n = np.where((n > 0) & np.isfinite(r), n, np.nan)
    points = r / n
    flags = baseline_flags(points, baseline, exclude=exclude)
    centre = float(r[flags].sum() / n[flags].sum()) if flags.any() else None
    return _Counts(kind, points, n, flags, centre, ceiling)
