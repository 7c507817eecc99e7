"""Intervals round a proportion, and the limits within which chance alone would keep it.

Wilson 1927 for the interval (as in Newcombe, Stat Med 1998;17:857-872); Spiegelhalter, Stat Med
2005;24:1185-1202, appendix A.1.1, for the interpolated limits, which follow a curve where the
exact ones jump from count to count.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Proportion:
    """A share with its interval, all between 0 and 1; ``None`` throughout without trials."""

    events: int
    trials: int
    value: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True, eq=False)
class Band:
    """A lower and an upper limit for each place; NaN where there can be none."""

    lower: Floats
    upper: Floats

    def clamped(self, low: float, high: float) -> Band:
        """The same limits for display, none of them outside ``low`` to ``high``."""
        return Band(np.clip(self.lower, low, high), np.clip(self.upper, low, high))


def wilson_interval(events: int, trials: int, *, confidence: float = 0.95) -> Proportion:
    """Share of ``trials`` that were ``events``, with its Wilson interval.

    Chosen over value +- z standard errors, which has no width at 0 events and can pass 1.

    :raises ValueError: for counts below 0, more events than trials, or a confidence not in (0, 1).
    """
    if not 0 <= events <= trials:
        raise ValueError(f"events must lie between 0 and trials: {events} of {trials}")
    z = two_sided_z(confidence)
    if trials == 0:
        return Proportion(events, trials, None, None, None)
    share = events / trials
    middle = share + z**2 / (2 * trials)
    reach = z * (share * (1 - share) / trials + z**2 / (4 * trials**2)) ** 0.5
    whole = 1 + z**2 / trials
    # At 0 and at all events the limit is 0 and 1 exactly; rounding would leave a trace.
    low = 0.0 if events == 0 else (middle - reach) / whole
    high = 1.0 if events == trials else (middle + reach) / whole
    return Proportion(events, trials, share, low, high)


def two_sided_z(level: float) -> float:
    """How many standard deviations hold the middle share ``level`` of normal data: 1.96 at 0.95.

    :raises ValueError: for a level that is not between 0 and 1.
    """
    if not 0 < level < 1:
        raise ValueError(f"a level lies between 0 and 1: {level}")
    return float(stats.norm.ppf((1 + level) / 2))


def interpolated_binomial_limits(
    trials: ArrayLike, *, target: float, level: float, clamped: bool = True
) -> Band:
    """Limits of events / trials at a true share ``target``, interpolated between the counts.

    With r the smallest count whose cumulative probability reaches p, the limit is (r - a) /
    trials, where a = (F(r) - p) / (F(r) - F(r - 1)) (Spiegelhalter 2005, A.1.1). With few trials
    the lower one falls below 0: ``clamped=False`` shows it as it comes. NaN without trials.
    """
    return _binomial_limits(trials, target, level, interpolated=True, clamped=clamped)


def exact_binomial_limits(trials: ArrayLike, *, target: float, level: float) -> Band:
    """The counts between which the middle ``level`` of a binomial lies, divided by ``trials``."""
    return _binomial_limits(trials, target, level, interpolated=False, clamped=True)


def normal_limits(
    trials: ArrayLike, *, target: float, level: float, phi: float = 1.0, clamped: bool = True
) -> Band:
    """``target`` +- z root(phi target (1 - target) / trials); for many trials, or where phi > 1."""
    n = _checked(trials, target)
    if not phi > 0:
        raise ValueError(f"phi must be above 0: {phi}")
    reach = two_sided_z(level) * np.sqrt(phi * target * (1 - target) / n)
    band = Band(target - reach, target + reach)
    return band.clamped(0.0, 1.0) if clamped else band


def poisson_ratio_limits(expected: ArrayLike, *, level: float) -> Band:
    """Exact limits of observed / expected round 1 for counts; NaN where nothing is expected.

    Lower chi2(p; 2E) / 2E, upper chi2(1 - p; 2(E + 1)) / 2E, with p the share beyond each limit.

    :raises ValueError: for an expected count below 0.
    """
    e = np.asarray(expected, dtype=np.float64)
    if np.any(e < 0):
        raise ValueError(f"an expected count is not below 0: {e[e < 0][0]}")
    e = np.where(e > 0, e, np.nan)
    upper_tail = (1 + level) / 2
    two_sided_z(level)
    lower: Floats = stats.chi2.ppf(1 - upper_tail, 2 * e) / (2 * e)
    upper: Floats = stats.chi2.ppf(upper_tail, 2 * (e + 1)) / (2 * e)
    return Band(lower, upper)


def _binomial_limits(
    trials: ArrayLike, target: float, level: float, *, interpolated: bool, clamped: bool
) -> Band:
    n = _checked(trials, target)
    two_sided_z(level)
    band = Band(
        _binomial_limit(n, target, (1 - level) / 2, interpolated),
        _binomial_limit(n, target, (1 + level) / 2, interpolated),
    )
    return band.clamped(0.0, 1.0) if clamped else band


def _binomial_limit(n: Floats, target: float, p: float, interpolated: bool) -> Floats:
    if target in (0.0, 1.0):
        return np.where(np.isnan(n), np.nan, target)
    count = stats.binom.ppf(p, n, target)
    beyond = (stats.binom.cdf(count, n, target) - p) / stats.binom.pmf(count, n, target)
    limit: Floats = (count - beyond if interpolated else count) / n
    return limit


def _checked(trials: ArrayLike, target: float) -> Floats:
    """Trials as floats, those of 0 made NaN so that what is divided by them is NaN too."""
    if not 0 <= target <= 1:
        raise ValueError(f"a target share lies between 0 and 1: {target}")
    n = np.asarray(trials, dtype=np.float64)
    if np.any(n < 0):
        raise ValueError(f"a number of trials is not below 0: {n[n < 0][0]}")
    return np.where(n > 0, n, np.nan)
