"""Means of many testers drawn towards their common mean, the more the less each is known.

Normal values with their standard errors here; shares in ``beta_binomial``. Efron & Morris, JASA
1975;70:311-319.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize, stats

from analytics.statistics.overdispersion import random_effects

Floats = NDArray[np.float64]

METHODS: Final = ("reml", "dl")
_NORMAL_95: Final = float(stats.norm.ppf(0.975))


@dataclass(frozen=True, slots=True)
class NormalShrinkage:
    """Values of n units drawn towards ``mean``; arrays are NaN where a unit told nothing.

    ``towards`` is the share B taken from the mean, s^2/(s^2 + tau^2): 1 where a unit tells
    nothing of its own. ``low`` to ``high`` is the 95 % interval of the unit's true value, given
    tau. ``tau`` is the SD of true values between units, 0 where the standard errors explain all
    differences. All ``None`` or NaN with ``reason`` ``fewer_than_two_units``.
    """

    mean: float | None
    mean_se: float | None
    tau: float | None
    towards: Floats
    shrunken: Floats
    low: Floats
    high: Floats
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class JamesStein:
    """Values of one variance drawn to their mean: mean + ``constant`` (value - mean).

    ``None`` with ``reason``: ``fewer_than_four_values``, where nothing is gained.
    """

    constant: float | None
    mean: float | None
    shrunken: Floats
    reason: str | None = None


def normal_shrinkage(
    values: ArrayLike, standard_errors: ArrayLike, *, method: str = "reml"
) -> NormalShrinkage:
    """Shrink ``values`` (n,) with their ``standard_errors`` (n,), above 0; NaN is left out.

    ``method`` of the variance between units: restricted maximum likelihood, or ``dl``, the
    moment estimate of DerSimonian and Laird.
    """
    if method not in METHODS:
        raise ValueError(f"method must be one of {METHODS}, not {method!r}")
    y, s = (np.asarray(each, np.float64).ravel() for each in (values, standard_errors))
    if len(y) != len(s):
        raise ValueError(f"{len(y)} values with {len(s)} standard errors")
    if (s <= 0).any():
        raise ValueError(f"a standard error is not above 0: {np.nanmin(s)}")
    there = np.isfinite(y) & np.isfinite(s)
    if there.sum() < 2:
        nothing = np.full(len(y), np.nan)
        return NormalShrinkage(None, None, None, *(nothing,) * 4, "fewer_than_two_units")
    variance = s[there] ** 2
    tau2 = tau2_reml(y[there], variance)
    if method == "dl" and (found := random_effects(y[there], s[there])):
        tau2 = found.tau2
    weights = 1 / (variance + tau2)
    mean, mean_se = float((weights * y[there]).sum() / weights.sum()), weights.sum() ** -0.5
    towards = np.where(there, s**2 / (s**2 + tau2), np.nan)
    shrunken = towards * mean + (1 - towards) * y
    # What is left of the unit's own error, and the mean's error as far as the mean is used.
    half = _NORMAL_95 * np.sqrt((1 - towards) * s**2 + (towards * mean_se) ** 2)
    return NormalShrinkage(
        mean=mean,
        mean_se=float(mean_se),
        tau=math.sqrt(tau2),
        towards=towards,
        shrunken=shrunken,
        low=shrunken - half,
        high=shrunken + half,
    )


def tau2_reml(values: Floats, variances: Floats) -> float:
    """Variance between units by restricted maximum likelihood; 0 for fewer than two."""
    if len(values) < 2:
        return 0.0

    def lost(tau2: float) -> float:
        weights = 1 / (variances + tau2)
        mean = (weights * values).sum() / weights.sum()
        squares = (weights * (values - mean) ** 2).sum()
        return float(squares - np.log(weights).sum() + np.log(weights.sum())) / 2

    # Between units there cannot be more variance than the values show altogether.
    most = float(values.var(ddof=1)) * 2 + 1e-300
    starts = np.concatenate(([0.0], np.geomspace(most * 1e-6, most, 40)))
    best = int(np.argmin([lost(start) for start in starts]))
    around = starts[max(best - 1, 0)], starts[min(best + 1, len(starts) - 1)]
    found = optimize.minimize_scalar(lost, bounds=around, method="bounded", options={"xatol": 0.0})
    return float(found.x) if found.fun < lost(0.0) else 0.0


def james_stein(values: ArrayLike, variance: float) -> JamesStein:
    """Shrink values of equal known ``variance``: c = 1 - (k - 3) variance / sum (y - mean)^2.

    Never past the mean: a constant below 0 is 0 (the positive part).
    """
    if not variance > 0:
        raise ValueError(f"the variance must be above 0, not {variance}")
    y = np.asarray(values, np.float64).ravel()
    there = np.isfinite(y)
    k = int(there.sum())
    if k < 4:
        return JamesStein(None, None, np.full(len(y), np.nan), "fewer_than_four_values")
    mean = float(y[there].mean())
    squares = float(((y[there] - mean) ** 2).sum())
    constant = max(0.0, 1 - (k - 3) * variance / squares) if squares > 0 else 0.0
    return JamesStein(constant, mean, np.where(there, mean + constant * (y - mean), np.nan))
