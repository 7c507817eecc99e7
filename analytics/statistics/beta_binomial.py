"""Shares of many testers drawn towards their common share, the more the fewer visits each has.

Each tester's own share is a draw from a beta distribution, the events counted are binomial around
it. Gelman et al., Bayesian Data Analysis, section 5.1, gives the moments; here the likelihood.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize, stats

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class BetaPrior:
    """How shares are spread between units: Beta(``alpha``, ``beta``), or ``reason`` for none.

    ``at_bound`` where the counts show no spread beyond chance: the distribution is then made as
    narrow as all trials together allow, never a single point. ``reason`` is
    ``fewer_than_two_units``, ``no_events`` or ``only_events``.
    """

    alpha: float | None
    beta: float | None
    at_bound: bool = False
    reason: str | None = None

    @property
    def mean(self) -> float | None:
        """Mean share of the units."""
        if self.alpha is None or self.beta is None:
            return None
        return self.alpha / (self.alpha + self.beta)

    @property
    def sd(self) -> float | None:
        """SD of the shares between units."""
        if self.alpha is None or self.beta is None:
            return None
        total = self.alpha + self.beta
        return math.sqrt(self.alpha * self.beta / (total**2 * (total + 1)))


@dataclass(frozen=True, slots=True)
class ShrunkenShares:
    """Share of each unit and its 95 % interval, given the prior; NaN where there is no prior.

    A unit without trials has the prior's mean.
    """

    share: Floats
    low: Floats
    high: Floats


def log_likelihood(alpha: float, beta: float, events: Floats, trials: Floats) -> float:
    """Logarithm of the likelihood of all counts given the beta distribution."""
    return float(stats.betabinom.logpmf(events, trials, alpha, beta).sum())


def fit_by_likelihood(events: ArrayLike, trials: ArrayLike) -> BetaPrior:
    """Beta distribution of the shares by maximum likelihood of the counts (n,) and (n,)."""
    r, n = _counts(events, trials)
    reason = _cannot_fit(r, n)
    if reason:
        return BetaPrior(None, None, reason=reason)
    pooled, most = r.sum() / n.sum(), math.log(n.sum())

    def lost(place: Floats) -> float:
        share, total = 1 / (1 + math.exp(-place[0])), math.exp(place[1])
        return -log_likelihood(share * total, (1 - share) * total, r, n)

    middle = math.log(pooled / (1 - pooled))
    bounds = [(middle - 5, middle + 5), (-5.0, most)]
    starts = [np.array([middle, size]) for size in np.linspace(0.0, most, 4)]
    tries = [optimize.minimize(lost, start, bounds=bounds, method="L-BFGS-B") for start in starts]
    best = min(tries, key=lambda found: float(found.fun))
    share, total = float(1 / (1 + math.exp(-best.x[0]))), float(math.exp(best.x[1]))
    at_bound = bool(best.x[1] > most - 1e-3)
    # Without spread between units their common share is that of all trials together.
    share = float(pooled) if at_bound else share
    return BetaPrior(share * total, (1 - share) * total, at_bound)


def fit_by_moments(events: ArrayLike, trials: ArrayLike) -> BetaPrior:
    """Beta distribution with the mean and variance of the raw shares (BDA 5.1).

    The chance in each raw share is counted as spread between units, so it draws too little:
    a check and a first idea, not the estimate to show.
    """
    r, n = _counts(events, trials)
    reason = _cannot_fit(r, n)
    if reason:
        return BetaPrior(None, None, reason=reason)
    shares = r[n > 0] / n[n > 0]
    mean, variance = float(shares.mean()), float(shares.var(ddof=1))
    most = float(n.sum())
    total = mean * (1 - mean) / variance - 1 if variance > 0 else most
    # Shares of nothing but 0 and 1 have a variance that no beta distribution has.
    total = min(max(total, 1e-3), most)
    return BetaPrior(mean * total, (1 - mean) * total, total == most)


def shrunken_shares(events: ArrayLike, trials: ArrayLike, prior: BetaPrior) -> ShrunkenShares:
    """(r + alpha)/(n + alpha + beta) with the middle 95 % of each unit's beta distribution."""
    r, n = _counts(events, trials)
    if prior.alpha is None or prior.beta is None:
        nothing = np.full(len(n), np.nan)
        return ShrunkenShares(nothing, nothing.copy(), nothing.copy())
    a, b = prior.alpha + r, prior.beta + n - r
    low, high = (np.asarray(stats.beta.ppf(p, a, b), np.float64) for p in (0.025, 0.975))
    return ShrunkenShares(a / (a + b), low, high)


def _counts(events: ArrayLike, trials: ArrayLike) -> tuple[Floats, Floats]:
    r, n = (np.asarray(each, np.float64).ravel() for each in (events, trials))
    if len(r) != len(n):
        raise ValueError(f"{len(r)} counts of events with {len(n)} of trials")
    # Written so that a NaN is refused too.
    wrong = ~((r >= 0) & (r <= n) & (r == np.floor(r)) & (n == np.floor(n)))
    if wrong.any():
        raise ValueError(f"{r[wrong][0]} events in {n[wrong][0]} trials")
    return r, n


def _cannot_fit(r: Floats, n: Floats) -> str | None:
    if (n > 0).sum() < 2:
        return "fewer_than_two_units"
    if r.sum() == 0:
        return "no_events"
    return "only_events" if r.sum() == n.sum() else None
