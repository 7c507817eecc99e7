"""Values far from the rest: marks that say "please look at the record", never reasons to delete it.

Places in an answer are those of what was given; missing values are left out and never marked.
"""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats
from sklearn.covariance import MinCovDet
from statsmodels.stats.stattools import medcouple

from analytics.statistics.robust import MEAN_DEVIATION_TO_SD

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# The MAD of normal data is 0.6745 SD; beyond 3.5 a value is marked (Iglewicz & Hoaglin 1993,
# through the NIST/SEMATECH e-Handbook).
MAD_OF_SD: Final = 0.6745
MODIFIED_Z_LIMIT: Final = 3.5
# The medcouple needs memory by the square of the number of values.
MOST_FOR_MEDCOUPLE: Final = 5000


@dataclass(frozen=True, slots=True)
class ModifiedZ:
    """Robust distances in SDs; NaN where a value is missing or nothing can be told.

    ``scale_from`` is ``mad``, or ``mean_deviation`` where over half of the values are equal and
    the MAD is 0. ``reason`` is ``too_few_values`` or ``values_are_equal``.
    """

    z: Floats
    marked: Flags
    scale_from: str | None
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class Fences:
    """Limits beyond which a value is marked; ``None`` with ``reason`` where there are none to draw.

    ``reason`` is ``too_few_values`` (under four) or ``most_values_are_equal`` (no interquartile
    range, so that every other value would be marked).
    ``medcouple`` is the skewness the fences follow (0 for Tukey's); ``sampled`` where it was taken
    of a fixed random part of the values.
    """

    low: float | None
    high: float | None
    marked: Flags
    medcouple: float | None
    sampled: bool = False
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class ExtremeDeviates:
    """Rosner's generalised test: each step's largest deviate, its limit, and the places marked."""

    deviates: Floats
    limits: Floats
    places: tuple[int, ...]
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class RobustDistances:
    """Squared robust distances (n,), NaN where a row is incomplete, and which pass ``limit``."""

    squared: Floats
    limit: float | None
    marked: Flags
    reason: str | None = None


def modified_z(values: ArrayLike, *, limit: float = MODIFIED_Z_LIMIT) -> ModifiedZ:
    """0.6745 (x - median)/MAD, marked beyond ``limit`` either way; needs three values."""
    x, there = _present(values)
    nothing = np.full(len(there), np.nan)
    if len(x) < 3:
        return ModifiedZ(nothing, np.zeros(len(there), np.bool_), None, "too_few_values")
    centre = float(np.median(x))
    away = np.abs(x - centre)
    mad, mean = float(np.median(away)), float(away.mean())
    if _nothing_beside(mean, x):
        return ModifiedZ(nothing, np.zeros(len(there), np.bool_), None, "values_are_equal")
    by_mad = not _nothing_beside(mad, x)
    scale = mad / MAD_OF_SD if by_mad else MEAN_DEVIATION_TO_SD * mean
    z = _spread_out((x - centre) / scale, there)
    return ModifiedZ(z, np.abs(z) > limit, "mad" if by_mad else "mean_deviation")


def tukey_fences(values: ArrayLike, *, reach: float = 1.5) -> Fences:
    """Quartiles less and plus ``reach`` interquartile ranges (quartiles as numpy's default)."""
    return _fences(values, reach, follow_skewness=False)


def adjusted_fences(values: ArrayLike, *, reach: float = 1.5) -> Fences:
    """Tukey's fences moved with the skewness, so that a long tail is not marked for being one.

    Hubert & Vandervieren, Comput Stat Data Anal 2008;52:5186 (constants read in a public manual):
    with the medcouple M the reaches are 1.5 exp(-4M) and 1.5 exp(3M), mirrored for M below 0.
    Beyond 5,000 values M is taken of a random part, always the same.
    """
    return _fences(values, reach, follow_skewness=True)


def extreme_deviates(values: ArrayLike, *, most: int = 10, alpha: float = 0.05) -> ExtremeDeviates:
    """Rosner's generalised extreme studentised deviate test for up to ``most`` far values.

    Rosner, Technometrics 1983;25:165-172, as the NIST/SEMATECH e-Handbook gives it. Needs three
    values more than ``most``; fewer are tried where there are fewer.
    """
    if most < 1 or not 0 < alpha < 1:
        raise ValueError(f"most must be at least 1 and alpha a share, not {most} and {alpha}")
    x, there = _present(values)
    rounds = min(most, len(x) - 3)
    if rounds < 1:
        return ExtremeDeviates(np.empty(0), np.empty(0), (), "too_few_values")
    left = np.ones(len(x), np.bool_)
    deviates, taken = np.zeros(rounds), []
    for step in range(rounds):
        mean, sd = x[left].mean(), x[left].std(ddof=1)
        away = np.where(left, np.abs(x - mean), -1.0)
        farthest = int(away.argmax())
        taken.append(farthest)
        left[farthest] = False
        deviates[step] = 0.0 if _nothing_beside(sd, x) else away[farthest] / sd
    limits = _rosner_limits(len(x), rounds, alpha)
    beyond = np.flatnonzero(deviates > limits)
    many = int(beyond[-1]) + 1 if len(beyond) else 0
    places = np.flatnonzero(there)[taken[:many]]
    return ExtremeDeviates(deviates, limits, tuple(sorted(places.tolist())))


def robust_distances(rows: ArrayLike, *, share: float = 0.975) -> RobustDistances:
    """Squared Mahalanobis distances from the minimum covariance determinant of ``rows`` (n, p).

    Marked beyond the ``share`` point of chi-square on p. Needs more than 5p complete rows and
    columns that vary and are not sums of each other; the same rows always give the same answer.
    """
    x = np.asarray(rows, np.float64)
    if x.ndim != 2 or x.shape[1] == 0:
        raise ValueError(f"rows must be of shape (n, p), not {x.shape}")
    there: Flags = np.asarray(np.isfinite(x).all(axis=1))
    kept, columns = x[there], x.shape[1]
    nothing, unmarked = np.full(len(x), np.nan), np.zeros(len(x), np.bool_)
    if len(kept) <= 5 * columns:
        return RobustDistances(nothing, None, unmarked, "too_few_rows")
    centred = (kept - kept.mean(axis=0)) / np.where(kept.std(axis=0) > 0, kept.std(axis=0), 1)
    if np.linalg.matrix_rank(centred, tol=1e-9 * math.sqrt(len(kept))) < columns:
        return RobustDistances(nothing, None, unmarked, "columns_do_not_vary_freely")
    fitted = _squared_distances(centred)
    if fitted is None:
        return RobustDistances(nothing, None, unmarked, "most_rows_lie_on_a_plane")
    squared, limit = _spread_out(fitted, there), float(stats.chi2.ppf(share, columns))
    return RobustDistances(squared, limit, squared > limit)


def _squared_distances(rows: Floats) -> Floats | None:
    with warnings.catch_warnings():
        # It warns where over half of the rows lie on a plane: then there is no distance to give.
        warnings.simplefilter("error")
        try:
            fitted = MinCovDet(random_state=0).fit(rows)
            squared = np.asarray(fitted.mahalanobis(rows), np.float64)
        except (RuntimeWarning, UserWarning, ValueError):
            return None
    flat = not np.linalg.eigvalsh(fitted.raw_covariance_)[0] > 1e-9
    return None if flat or not np.isfinite(squared).all() else squared


def _fences(values: ArrayLike, reach: float, *, follow_skewness: bool) -> Fences:
    x, there = _present(values)
    unmarked = np.zeros(len(there), np.bool_)
    if len(x) < 4:
        return Fences(None, None, unmarked, None, reason="too_few_values")
    first, third = (float(each) for each in np.quantile(x, (0.25, 0.75)))
    if _nothing_beside(third - first, x):
        return Fences(None, None, unmarked, None, reason="most_values_are_equal")
    skew, sampled = _medcouple(x) if follow_skewness else (0.0, False)
    down, up = (-4.0, 3.0) if skew >= 0 else (-3.0, 4.0)
    low = first - reach * math.exp(down * skew) * (third - first)
    high = third + reach * math.exp(up * skew) * (third - first)
    marked = _spread_out(x, there)
    return Fences(low, high, (marked < low) | (marked > high), skew, sampled)


def _medcouple(x: Floats) -> tuple[float, bool]:
    sampled = len(x) > MOST_FOR_MEDCOUPLE
    if sampled:
        # Of the ordered values, so that the order in which they came changes nothing.
        x = np.random.default_rng(0).choice(np.sort(x), MOST_FOR_MEDCOUPLE, replace=False)
    # The quick algorithm of the library is not meant for few values nor for many equal ones.
    skew = float(medcouple(x, use_fast=False))
    return (skew if math.isfinite(skew) else 0.0), sampled


def _rosner_limits(n: int, rounds: int, alpha: float) -> Floats:
    left = n - np.arange(rounds)
    t = stats.t.isf(alpha / (2 * left), left - 2)
    limits: Floats = (left - 1) * t / np.sqrt((left - 2 + t**2) * left)
    return limits


def _present(values: ArrayLike) -> tuple[Floats, Flags]:
    x = np.asarray(values, np.float64).ravel()
    there = np.isfinite(x)
    return x[there], there


def _spread_out(found: Floats, there: Flags) -> Floats:
    full = np.full(len(there), np.nan)
    full[there] = found
    return full


def _nothing_beside(spread: float, x: Floats) -> bool:
    """True where a spread is only what rounding leaves of equal values."""
    return not spread > 1e-12 * float(np.abs(x).max())
