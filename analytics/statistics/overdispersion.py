"""How much more units differ than chance alone would make them, and what to do about it.

Spiegelhalter, Qual Saf Health Care 2005;14:347-351 and Stat Med 2005;24:1185-1202: z values
winsorised so that a few far-off units do not widen the limits that should show them, then either
every variance times phi or, with the stronger reason behind it, a variance tau2 between units
added to each (DerSimonian & Laird, Control Clin Trials 1986;7:177-188).

Clipping the outer tenths makes z2 smaller also where nothing is over-dispersed: its mean is then
0.679, not 1. Here it is divided by that; without it true over-dispersion is missed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from analytics.statistics.proportions import two_sided_z

Floats = NDArray[np.float64]

WINSORISED_SHARE: Final = 0.10


@dataclass(frozen=True, slots=True)
class Overdispersion:
    """Whether units differ by more than chance, and by how much.

    ``statistic`` is the plain sum of z2, compared with chi-squared on ``df``. ``phi`` is the mean
    winsorised z2 over its consistency factor (1 where there is no over-dispersion), ``tau2`` the
    variance between units on the scale of the values. ``None`` with fewer than two units.
    """

    units: int
    df: int
    statistic: float | None
    p_value: float | None
    phi: float | None
    tau2: float | None


@dataclass(frozen=True, slots=True)
class PooledEffect:
    """A mean over units weighted by precision; ``low`` to ``high`` is its interval."""

    mean: float
    se: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class MetaAnalysis:
    """The mean of units that are one (``fixed``) and that differ by ``tau2`` (``random``)."""

    units: int
    q: float
    tau2: float
    fixed: PooledEffect
    random: PooledEffect


def consistency_factor(share: float = WINSORISED_SHARE) -> float:
    """Mean of z2 for standard normal z winsorised at the quantiles ``share`` and 1 - ``share``.

    With c the upper quantile: (1 - 2 share) - 2 c density(c) + 2 share c2; 0.679 at 0.10 (derived).

    :raises ValueError: for a share not from 0 to below a half.
    """
    if not 0 <= share < 0.5:
        raise ValueError(f"a share to winsorise lies from 0 to below 0.5: {share}")
    if share == 0:
        return 1.0
    c = float(stats.norm.ppf(1 - share))
    return float((1 - 2 * share) - 2 * c * stats.norm.pdf(c) + 2 * share * c**2)


def winsorised(z: ArrayLike, *, share: float = WINSORISED_SHARE) -> Floats:
    """``z`` with what lies beyond its own quantiles ``share`` and 1 - ``share`` put onto them."""
    values = np.asarray(z, dtype=np.float64)
    if values.size == 0:
        return values
    low, high = np.quantile(values, [share, 1 - share])
    return np.clip(values, low, high)


def assess_overdispersion(
    z: ArrayLike,
    standard_errors: ArrayLike,
    *,
    target_estimated: bool = True,
    test_z: ArrayLike | None = None,
    share: float = WINSORISED_SHARE,
) -> Overdispersion:
    """Test and measure the over-dispersion of units from their z and standard errors.

    ``standard_errors`` are on the scale the z were made on, which is the scale of ``tau2``. A
    target estimated from the same units takes up one degree of freedom; one fixed beforehand does
    not. ``test_z`` are other z for the test alone, where another scale keeps its level better.
    Units whose z or standard error is missing are left out.

    :raises ValueError: for shapes that differ or a standard error that is not above 0.
    """
    scores, s, tested = _present(z, standard_errors, z if test_z is None else test_z)
    df = len(scores) - int(target_estimated)
    if len(scores) < 2:
        return Overdispersion(len(scores), max(df, 0), None, None, None, None)
    statistic = float(np.sum(tested**2))
    spread = float(np.sum(winsorised(scores, share=share) ** 2)) / consistency_factor(share)
    return Overdispersion(
        units=len(scores),
        df=df,
        statistic=statistic,
        p_value=float(stats.chi2.sf(statistic, df)),
        phi=spread / len(scores),
        tau2=between_variance(spread, s, target_estimated=target_estimated),
    )


def between_variance(
    sum_of_squares: float, standard_errors: ArrayLike, *, target_estimated: bool = True
) -> float:
    """Variance between units that explains a sum of z2 (DerSimonian & Laird's moments), 0 or more.

    (Q - (I - 1)) / (W - sum w2 / W) round an estimated target, (Q - I) / W round one fixed
    beforehand; w = 1 / s2 and W their sum.
    """
    w = 1 / np.asarray(standard_errors, dtype=np.float64) ** 2
    if target_estimated:
        surplus, scale = sum_of_squares - (len(w) - 1), w.sum() - np.sum(w**2) / w.sum()
    else:
        surplus, scale = sum_of_squares - len(w), w.sum()
    return max(0.0, float(surplus / scale)) if scale > 0 else 0.0


def pooled_effect(
    values: ArrayLike, standard_errors: ArrayLike, *, tau2: float = 0.0, confidence: float = 0.95
) -> PooledEffect | None:
    """Mean of units weighted by 1 / (s2 + tau2), with its interval; ``None`` without units."""
    y, s, _ = _present(values, standard_errors, values)
    if len(y) == 0:
        return None
    w = 1 / (s**2 + tau2)
    mean, se = float(np.sum(w * y) / np.sum(w)), float(np.sum(w) ** -0.5)
    reach = two_sided_z(confidence) * se
    return PooledEffect(mean, se, mean - reach, mean + reach)


def random_effects(
    values: ArrayLike, standard_errors: ArrayLike, *, confidence: float = 0.95
) -> MetaAnalysis | None:
    """Fixed and random means of units after DerSimonian & Laird, nothing winsorised.

    ``None`` with fewer than two units.
    """
    y, s, _ = _present(values, standard_errors, values)
    fixed = pooled_effect(y, s, confidence=confidence)
    if fixed is None or len(y) < 2:
        return None
    q = float(np.sum(((y - fixed.mean) / s) ** 2))
    tau2 = between_variance(q, s)
    random = pooled_effect(y, s, tau2=tau2, confidence=confidence)
    return None if random is None else MetaAnalysis(len(y), q, tau2, fixed, random)


def _present(first: ArrayLike, errors: ArrayLike, second: ArrayLike) -> tuple[Floats, ...]:
    columns = [np.asarray(given, dtype=np.float64) for given in (first, errors, second)]
    if columns[0].ndim != 1 or len({column.shape for column in columns}) > 1:
        raise ValueError(f"one value a unit was wanted: {[column.shape for column in columns]}")
    s = columns[1]
    if np.any(s <= 0):
        raise ValueError(f"a standard error is above 0: {s[s <= 0][0]}")
    here = np.all(np.isfinite(columns), axis=0)
    return tuple(column[here] for column in columns)
