"""How far two ways of measuring the same thing differ: bias and limits of agreement.

Bland & Altman, Lancet 1986;i:307-310. Exact intervals of the limits by tolerance factors:
Carkeet, Optom Vis Sci 2015;92:e71 (abstract read; method derived here). They are to be preferred
below about a hundred pairs.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize, stats

Floats = NDArray[np.float64]
Intervals = Literal["each", "pair", "approximate"]

# Half of the normal distribution's middle 95 %.
NORMAL_95: Final = 1.959963984540054
# The noncentral t is slow and then unsure for very many pairs; the two ways agree long before.
MOST_FOR_EXACT: Final = 1000


@dataclass(frozen=True, slots=True)
class Interval:
    """An estimate with its 95 % confidence interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class LimitsOfAgreement:
    """Bias and limits of agreement of n pairs, in the unit of the differences.

    On the log scale all but ``sd`` are ratios. ``intervals`` tells how those of the limits were
    made. ``None`` with ``reason``: ``too_few_pairs`` (under three), or ``values_not_positive`` on
    the log scale.
    """

    pairs: int
    bias: Interval | None
    sd: float | None
    lower: Interval | None
    upper: Interval | None
    intervals: Intervals
    log_scale: bool
    reason: str | None = None


def limits_of_agreement(
    first: ArrayLike,
    second: ArrayLike,
    *,
    intervals: Intervals = "each",
    log_scale: bool = False,
    multiplier: float = NORMAL_95,
) -> LimitsOfAgreement:
    """Bias (first minus second) and bias -+ ``multiplier`` SD of the differences.

    ``intervals`` of the limits: ``each`` is exact for one limit by itself (noncentral t),
    ``pair`` exact for both taken together (Carkeet finds it right for most uses), ``approximate``
    is Bland and Altman's limit -+ t sqrt(3 SD^2/n). Pairs with a missing value are left out. On
    the log scale (for spreads that grow with the size; both above 0) answers are ratios
    first/second and their limits, and ``sd`` is that of the differences of natural logarithms.
    """
    if intervals not in _FACTORS:
        raise ValueError(f"intervals must be one of {list(_FACTORS)}, not {intervals!r}")
    if not multiplier > 0:
        raise ValueError(f"the multiplier must be above 0, not {multiplier}")
    a, b = _pairs(first, second)
    if log_scale and ((a <= 0) | (b <= 0)).any():
        return _untold(len(a), intervals, log_scale, "values_not_positive")
    apart = np.log(a) - np.log(b) if log_scale else a - b
    n = len(apart)
    if n < 3:
        return _untold(n, intervals, log_scale, "too_few_pairs")
    mean, sd = float(apart.mean()), float(apart.std(ddof=1))
    used: Intervals = intervals if n <= MOST_FOR_EXACT else "approximate"
    inner, outer = _FACTORS[used](n, multiplier)
    half = float(stats.t.ppf(0.975, n - 1)) * sd / math.sqrt(n)
    found = (
        Interval(mean, mean - half, mean + half),
        Interval(mean - multiplier * sd, mean - outer * sd, mean - inner * sd),
        Interval(mean + multiplier * sd, mean + inner * sd, mean + outer * sd),
    )
    bias, lower, upper = (_ratios(each) for each in found) if log_scale else found
    return LimitsOfAgreement(n, bias, sd, lower, upper, used, log_scale)


def tolerance_factor(n: int, *, confidence: float, share: float = 0.95) -> float:
    """k such that mean -+ k SD of n normal values holds ``share`` of all with ``confidence``.

    For both limits taken as a pair (Carkeet's second table): ``confidence`` 0.025 and 0.975 give
    the factors of the inner and outer limits. Exact, by integrating over the mean.
    """
    if n < 2 or not 0 < confidence < 1 or not 0 < share < 1:
        raise ValueError(f"n {n}, confidence {confidence}, share {share}")
    return _pair_factor(n, confidence, share)


@cache
def _pair_factor(n: int, confidence: float, share: float) -> float:
    nodes, weights = np.polynomial.legendre.leggauss(64)
    # The mean of n lies within 8 of its SDs; half of it, by symmetry.
    means = (nodes + 1) / 2 * 8 / math.sqrt(n)
    density = 2 * weights / 2 * 8 * stats.norm.pdf(means * math.sqrt(n))
    # Half width around each mean that holds the share of the standard normal distribution.
    reaches = np.sqrt(stats.ncx2.ppf(share, 1, means**2))

    def missing(k: float) -> float:
        held = stats.chi2.sf((n - 1) * reaches**2 / k**2, n - 1)
        return float((density * held).sum()) - confidence

    return float(optimize.brentq(missing, 1e-6, 1e6, xtol=1e-12, rtol=1e-12))


@cache
def _each_factors(n: int, multiplier: float) -> tuple[float, float]:
    """Factors of the inner and outer end of one limit's 95 % interval."""
    centre, root = multiplier * math.sqrt(n), math.sqrt(n)
    inner, outer = (float(stats.nct.ppf(p, n - 1, centre)) / root for p in (0.025, 0.975))
    return inner, outer


def _approximate_factors(n: int, multiplier: float) -> tuple[float, float]:
    half = float(stats.t.ppf(0.975, n - 1)) * math.sqrt(3 / n)
    return multiplier - half, multiplier + half


def _pair_factors(n: int, multiplier: float) -> tuple[float, float]:
    share = float(1 - 2 * stats.norm.sf(multiplier))
    inner, outer = (tolerance_factor(n, confidence=p, share=share) for p in (0.025, 0.975))
    return inner, outer


_FACTORS: Final[dict[Intervals, Callable[[int, float], tuple[float, float]]]] = {
    "each": _each_factors,
    "pair": _pair_factors,
    "approximate": _approximate_factors,
}


def _pairs(first: ArrayLike, second: ArrayLike) -> tuple[Floats, Floats]:
    a, b = (np.asarray(each, np.float64).ravel() for each in (first, second))
    if len(a) != len(b):
        raise ValueError(f"{len(a)} first values with {len(b)} second ones")
    both = np.isfinite(a) & np.isfinite(b)
    return a[both], b[both]


def _ratios(found: Interval) -> Interval:
    return Interval(math.exp(found.value), math.exp(found.low), math.exp(found.high))


def _untold(pairs: int, intervals: Intervals, log_scale: bool, reason: str) -> LimitsOfAgreement:
    return LimitsOfAgreement(pairs, None, None, None, None, intervals, log_scale, reason)
