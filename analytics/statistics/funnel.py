"""The funnel of a set of units: each value against its size, with the limits chance would keep.

Spiegelhalter, Stat Med 2005;24:1185-1202. The two lines hold 95 and 99.8 % of units that do not
differ. Where at least ten units differ by more than chance, the variance between them is added
(additive over-dispersion, Qual Saf Health Care 2005;14:347-351); with fewer the limits stay as
they are and the funnel says so.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analytics.statistics.adjustment import Adjustment, Because, choose_adjustment
from analytics.statistics.funnel_limits import MeanLimits, ShareLimits, sides
from analytics.statistics.overdispersion import (
    Overdispersion,
    assess_overdispersion,
    pooled_effect,
)
from analytics.statistics.proportions import Band
from analytics.statistics.transforms import anscombe_shares, arcsine

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Sides = NDArray[np.int8]
Limits = Callable[[Floats, float], Band]

INNER: Final = 0.95
OUTER: Final = 0.998
GRID_POINTS: Final = 100
_UNMEASURED: Final = Overdispersion(0, 0, None, None, None, None)


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Both pairs of limits at each size."""

    sizes: Floats
    inner: Band
    outer: Band


@dataclass(frozen=True, slots=True, eq=False)
class Funnel:
    """A funnel, ready to be drawn; every array of units has one entry each, in the order given.

    ``values`` and the limits ``at_units`` are NaN for a unit that is not ``judged`` (too small, or
    nothing known of it): it gets no dot. ``outside_inner`` and ``outside_outer`` are -1 below, 1
    above and 0 within the line. ``curve`` is the same limits over the range of sizes.
    ``chance_inner`` and ``chance_outer``: how many judged units would lie outside if none differed
    by more than the adjustment allows. ``target`` is ``None`` where no unit has a value.
    """

    target: float | None
    adjustment: Adjustment
    because: Because
    overdispersion: Overdispersion
    values: Floats
    judged: Flags
    at_units: Lines
    outside_inner: Sides
    outside_outer: Sides
    curve: Lines
    chance_inner: float
    chance_outer: float


def proportion_funnel(
    events: ArrayLike,
    trials: ArrayLike,
    *,
    target: float | None = None,
    adjustment: Adjustment | None = None,
    minimum: int = 1,
) -> Funnel:
    """Funnel of the shares events / trials of units.

    ``target`` is the share of all units together unless one is given. ``adjustment`` is chosen
    unless one is asked for. Units with fewer than ``minimum`` trials count in the target, and are
    neither judged nor used to measure over-dispersion.

    :raises ValueError: for counts that cannot be, or a target not from 0 to 1.
    """
    r, n = _columns(events, trials)
    possible = (r >= 0) & (r <= n)
    if not possible.all():
        raise ValueError(f"no such counts: {r[~possible][0]:g} of {n[~possible][0]:g}")
    judged = n >= max(minimum, 1)
    shares = np.divide(r, n, out=np.full(n.shape, np.nan), where=judged)
    centre = float(r.sum() / n.sum()) if target is None and n.sum() > 0 else target
    found = _differences_of_shares(r[judged], n[judged], centre, estimated=target is None)
    used, because = choose_adjustment(found, adjustment)
    limits = ShareLimits(centre, used, found)
    sizes, grid = np.where(judged, n, np.nan), _grid(n[judged])
    at_units = _lines(sizes, sizes, limits.at)
    return Funnel(
        target=centre,
        adjustment=used,
        because=because,
        overdispersion=found,
        values=shares,
        judged=judged,
        at_units=at_units,
        outside_inner=sides(shares, at_units.inner),
        outside_outer=sides(shares, at_units.outer),
        curve=_lines(grid, grid, limits.at),
        chance_inner=limits.chance(n[judged], INNER),
        chance_outer=limits.chance(n[judged], OUTER),
    )


def mean_funnel(
    values: ArrayLike,
    standard_errors: ArrayLike,
    sizes: ArrayLike,
    *,
    target: float | None = None,
    adjustment: Adjustment | None = None,
    minimum: int = 2,
) -> Funnel:
    """Funnel of means of units, each with its standard error and how many values are behind it.

    ``target`` is the mean weighted by precision unless one is given. Best are standard errors from
    one SD pooled over units, SD / root n: then each unit's limits lie on the curve, and a small
    unit is not held to the SD its few values happen to have. With standard errors of the units'
    own the curve shows their pooled SD. A unit without a value, without a standard error above 0
    or with fewer than ``minimum`` values is not judged.

    :raises ValueError: for shapes that differ, sizes below 0 or a target that is no number.
    """
    y, s, n = _columns(values, standard_errors, sizes)
    if target is not None and not math.isfinite(target):
        raise ValueError(f"a target is a finite number: {target}")
    judged = np.isfinite(y) & np.isfinite(s) & (s > 0) & (n >= max(minimum, 1))
    shown, errors = np.where(judged, y, np.nan), np.where(judged, s, np.nan)
    pooled = pooled_effect(shown, errors)
    centre = pooled.mean if target is None and pooled is not None else target
    found = _differences_of_means(y[judged], s[judged], centre, estimated=target is None)
    used, because = choose_adjustment(found, adjustment)
    limits = MeanLimits(centre, used, found)
    at_units = _lines(np.where(judged, n, np.nan), errors, limits.at)
    grid = _grid(n[judged])
    return Funnel(
        target=centre,
        adjustment=used,
        because=because,
        overdispersion=found,
        values=shown,
        judged=judged,
        at_units=at_units,
        outside_inner=sides(shown, at_units.inner),
        outside_outer=sides(shown, at_units.outer),
        curve=_lines(grid, _pooled_sd(s[judged], n[judged]) / np.sqrt(grid), limits.at),
        chance_inner=float(judged.sum()) * (1 - INNER),
        chance_outer=float(judged.sum()) * (1 - OUTER),
    )


def _differences_of_shares(
    r: Floats, n: Floats, centre: float | None, *, estimated: bool
) -> Overdispersion:
    """Tested on the scale of shares, where z2 is 1 on average however few events there are.

    Measured on Anscombe's angles, where it is nearly so; on plain angles 200 units of 20 trials at
    5 % look over-dispersed although they are all the same.
    """
    if centre is None or not 0 < centre < 1:
        return _UNMEASURED
    angles = anscombe_shares(r, n)
    return assess_overdispersion(
        (angles.values - arcsine(centre)) / angles.standard_errors,
        angles.standard_errors,
        target_estimated=estimated,
        test_z=(r / n - centre) / np.sqrt(centre * (1 - centre) / n),
    )


def _differences_of_means(
    y: Floats, s: Floats, centre: float | None, *, estimated: bool
) -> Overdispersion:
    if centre is None:
        return _UNMEASURED
    return assess_overdispersion((y - centre) / s, s, target_estimated=estimated)


def _columns(*columns: ArrayLike) -> tuple[Floats, ...]:
    arrays = tuple(np.asarray(column, dtype=np.float64) for column in columns)
    if arrays[0].ndim != 1 or len({array.shape for array in arrays}) > 1:
        raise ValueError(f"one value a unit was wanted: {[array.shape for array in arrays]}")
    sizes = arrays[-1]
    if not np.all(sizes >= 0):
        raise ValueError(f"a size is a number not below 0: {sizes[~(sizes >= 0)][0]}")
    return arrays


def _lines(sizes: Floats, places: Floats, limits: Limits) -> Lines:
    return Lines(sizes, limits(places, INNER), limits(places, OUTER))


def _grid(sizes: Floats) -> Floats:
    """Up to a hundred whole sizes from the smallest to the largest, closer where limits bend."""
    if sizes.size == 0:
        return np.zeros(0)
    return np.unique(np.rint(np.geomspace(sizes.min(), sizes.max(), GRID_POINTS)))


def _pooled_sd(errors: Floats, sizes: Floats) -> float:
    """SD within units from their standard errors, weighted by degrees of freedom."""
    if sizes.size == 0:
        return float("nan")
    variance = float(np.average(sizes * errors**2, weights=np.maximum(sizes - 1, 1)))
    return math.sqrt(variance)
