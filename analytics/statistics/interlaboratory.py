"""The same thing measured by several testers: how well they repeat, and how far they agree.

Testers stand where ISO 5725-2 and ASTM E691 have laboratories. It needs the same thing measured
by all (an instrument's check, a shared recording read again): patients differ between testers,
and then these figures say nothing about the testers.

``cells`` is always of shape (testers, repeats), NaN where a repeat is missing. Formulas of the
two standards from memory; h and k read in a public package's manual.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

Floats = NDArray[np.float64]

# 1.96 times the root of 2, as both standards round it.
LIMIT_FACTOR: Final = 2.8


@dataclass(frozen=True, slots=True)
class Precision:
    """Precision of one quantity, in its own unit; ``None`` with ``reason`` where it cannot be told.

    ``means_sd`` is the SD of the testers' means (s of x-bar), ``between_sd`` what of it repeats do
    not explain. Two results of one tester differ by more than ``repeatability_limit`` in one case
    of twenty, two results of different testers by more than ``reproducibility_limit``.
    ``reason`` is ``fewer_than_two_testers`` or ``no_repeats``.
    """

    testers: int
    results: int
    mean: float | None
    means_sd: float | None
    repeatability_sd: float | None
    between_sd: float | None
    reproducibility_sd: float | None
    repeatability_limit: float | None
    reproducibility_limit: float | None
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class Consistency:
    """Mandel's h and k, one a tester; NaN for a tester without results (k: without repeats).

    h tells how far a tester's mean lies from the others', k how large its spread is beside
    theirs. ``reason`` says why both are NaN throughout, or why one of them is.
    """

    h: Floats
    k: Floats
    h_critical: float | None
    k_critical: float | None
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class FarthestTest:
    """The farthest of a set, tested: ``index`` is its place in what was given.

    ``p_value`` is an upper bound (Bonferroni), exact near the usual levels. All but ``reason``
    is ``None`` where the test cannot be made.
    """

    index: int | None
    statistic: float | None
    critical: float | None
    p_value: float | None
    exceeds: bool | None
    reason: str | None = None


def precision(cells: ArrayLike) -> Precision:
    """Repeatability and reproducibility SD and limits, for equal or unequal numbers of repeats.

    ISO 5725-2; with equal numbers these are the figures of ASTM E691, whose reproducibility SD is
    never below the repeatability SD.
    """
    count, means, spreads = _summaries(cells)
    present = count > 0
    n, mean_of = count[present], means[present]
    p, total = len(n), int(n.sum())
    if p < 2:
        mean = float(mean_of[0]) if p else None
        return _no_precision(p, total, mean, None, "fewer_than_two_testers")
    mean, means_sd = float((n * mean_of).sum() / total), float(mean_of.std(ddof=1))
    if total == p:
        return _no_precision(p, total, mean, means_sd, "no_repeats")
    repeats = count >= 2
    within = float(((count - 1) * spreads**2)[repeats].sum() / (total - p))
    usual_n = (total - float((n**2).sum()) / total) / (p - 1)
    of_means = float((n * (mean_of - mean) ** 2).sum()) / (p - 1)
    between = max(0.0, (of_means - within) / usual_n)
    both = math.sqrt(between + within)
    return Precision(
        testers=p,
        results=total,
        mean=mean,
        means_sd=means_sd,
        repeatability_sd=math.sqrt(within),
        between_sd=math.sqrt(between),
        reproducibility_sd=both,
        repeatability_limit=LIMIT_FACTOR * math.sqrt(within),
        reproducibility_limit=LIMIT_FACTOR * both,
    )


def consistency(cells: ArrayLike, *, alpha: float = 0.005) -> Consistency:
    """Mandel's h and k with their critical values at ``alpha`` (h two-sided, k one-sided).

    With unequal numbers of repeats k is held against the value for the commonest number
    (from memory, ISO 5725-2).
    """
    count, means, spreads = _summaries(cells)
    p, repeated = int((count > 0).sum()), count >= 2
    nothing = np.full(len(count), np.nan)
    if p < 3:
        return Consistency(nothing, nothing.copy(), None, None, "fewer_than_three_testers")
    usual = float(np.nanstd(means, ddof=1))
    pooled = math.sqrt(float((spreads[repeated] ** 2).mean())) if repeated.any() else 0.0
    h = (means - np.nanmean(means)) / usual if usual > 0 else nothing
    k = spreads / pooled if pooled > 0 else nothing.copy()
    commonest = int(np.bincount(count[repeated]).argmax()) if pooled > 0 else 0
    reasons = ([] if usual > 0 else ["means_are_equal"]) + ([] if pooled > 0 else ["no_spread"])
    return Consistency(
        h=h,
        k=k,
        h_critical=h_critical(p, alpha=alpha),
        k_critical=k_critical(int(repeated.sum()), commonest, alpha=alpha) if pooled > 0 else None,
        reason="_and_".join(reasons) or None,
    )


def h_critical(testers: int, *, alpha: float = 0.005) -> float:
    """Critical value of Mandel's h, two-sided; at least three testers."""
    _need("testers", testers, 3)
    t = float(stats.t.isf(_share(alpha) / 2, testers - 2))
    return (testers - 1) * t / math.sqrt(testers * (t**2 + testers - 2))


def k_critical(testers: int, repeats: int, *, alpha: float = 0.005) -> float | None:
    """Critical value of Mandel's k; ``None`` for one tester, whose k is always 1."""
    _need("testers", testers, 1)
    _need("repeats", repeats, 2)
    if testers == 1:
        return None
    df = repeats - 1
    share = float(stats.beta.isf(_share(alpha), df / 2, (testers - 1) * df / 2))
    return math.sqrt(testers * share)


def cochran(cells: ArrayLike, *, alpha: float = 0.05) -> FarthestTest:
    """Is one tester's spread larger than the others'? Cochran's C; for unequal repeats 't Lam's G.

    G_j = df_j s_j^2 / sum(df s^2) is compared with 1/(1 + (df/df_j - 1)/F), F the upper
    alpha/testers point (R. U. E. 't Lam, Anal Chim Acta 2010;659:68-84; statistic read in a public
    package, each tester with its own degrees of freedom); with equal numbers it is Cochran's C.
    """
    count, _, spreads = _summaries(cells)
    tried = np.flatnonzero(count >= 2)
    if len(tried) < 2:
        return _no_test("fewer_than_two_testers_with_repeats")
    df = (count[tried] - 1).astype(np.float64)
    parts = df * spreads[tried] ** 2
    if not parts.sum() > 0:
        return _no_test("no_spread")
    share = parts / parts.sum()
    others = df.sum() - df
    with np.errstate(divide="ignore"):
        ratio = (others / df) / (1 / share - 1)
    tails = np.asarray(stats.f.sf(ratio, df, others), np.float64)
    # With unequal numbers the largest share need not be the farthest; of equal tails, the larger.
    first = int(np.lexsort((-share, tails))[0])
    limit = _largest_share(df[first], others[first], _share(alpha) / len(tried))
    return FarthestTest(
        index=int(tried[first]),
        statistic=float(share[first]),
        critical=limit,
        p_value=min(1.0, len(tried) * float(tails[first])),
        exceeds=bool(share[first] > limit),
    )


def cochran_critical(testers: int, repeats: int, *, alpha: float = 0.05) -> float:
    """Critical value of Cochran's C for equal numbers of repeats."""
    _need("testers", testers, 2)
    _need("repeats", repeats, 2)
    df = float(repeats - 1)
    return _largest_share(df, (testers - 1) * df, _share(alpha) / testers)


def grubbs(values: ArrayLike, *, alpha: float = 0.05, side: str = "both") -> FarthestTest:
    """Is the value farthest from the mean (``side`` both, high or low) too far for normal data?

    Missing values are left out; ``index`` counts in what was given.
    """
    if side not in ("both", "high", "low"):
        raise ValueError(f"side must be both, high or low, not {side!r}")
    x = np.asarray(values, np.float64).ravel()
    present = np.flatnonzero(np.isfinite(x))
    if len(present) < 3:
        return _no_test("fewer_than_three_values")
    kept = x[present]
    sd = float(kept.std(ddof=1))
    if not sd > 1e-14 * float(np.abs(kept).max()):
        return _no_test("values_are_equal")
    away = (kept - kept.mean()) / sd
    away = {"both": np.abs(away), "high": away, "low": -away}[side]
    first, n, sides = int(away.argmax()), len(kept), 2 if side == "both" else 1
    g = float(away[first])
    limit = grubbs_critical(n, alpha=alpha, two_sided=side == "both")
    # g cannot pass (n - 1)/sqrt(n), which it reaches where every other value is equal.
    reached = min(n * g**2 / (n - 1) ** 2, 1.0)
    t = math.sqrt(reached * (n - 2) / (1 - reached)) if reached < 1 else math.inf
    tail = float(stats.t.sf(t, n - 2))
    return FarthestTest(int(present[first]), g, limit, min(1.0, sides * n * tail), g > limit)


def grubbs_critical(n: int, *, alpha: float = 0.05, two_sided: bool = True) -> float:
    """Critical value of Grubbs' G for ``n`` values, at least three."""
    _need("values", n, 3)
    tail = _share(alpha) / (2 * n if two_sided else n)
    t = float(stats.t.isf(tail, n - 2))
    return (n - 1) / math.sqrt(n) * math.sqrt(t**2 / (n - 2 + t**2))


def _largest_share(df: float, others: float, tail: float) -> float:
    return float(1 / (1 + (others / df) / stats.f.isf(tail, df, others)))


def _summaries(cells: ArrayLike) -> tuple[NDArray[np.int64], Floats, Floats]:
    """Number, mean and SD of each row; NaN where there are too few."""
    x = np.asarray(cells, np.float64)
    if x.ndim != 2:
        raise ValueError(f"cells must be testers by repeats, not of shape {x.shape}")
    there = np.isfinite(x)
    count = there.sum(axis=1)
    means = np.where(there, x, 0.0).sum(axis=1) / np.where(count, count, np.nan)
    away = np.where(there, x - means[:, None], 0.0)
    # Equal values whose mean is a rounding away from them have no spread.
    away = np.where(np.abs(away) > 1e-12 * np.abs(means)[:, None], away, 0.0)
    return count, means, np.sqrt((away**2).sum(axis=1) / np.where(count >= 2, count - 1, np.nan))


def _need(what: str, number: int, least: int) -> None:
    if number < least:
        raise ValueError(f"at least {least} {what} are needed, not {number}")


def _share(alpha: float) -> float:
    if not 0 < alpha < 1:
        raise ValueError(f"alpha must lie between 0 and 1, not {alpha}")
    return alpha


def _no_precision(
    testers: int, results: int, mean: float | None, means_sd: float | None, reason: str
) -> Precision:
    return Precision(testers, results, mean, means_sd, None, None, None, None, None, reason)


def _no_test(reason: str) -> FarthestTest:
    return FarthestTest(None, None, None, None, None, reason)
