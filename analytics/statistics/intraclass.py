"""Intraclass correlation: what share of all variation lies between the targets.

Six forms of Shrout & Fleiss, Psychol Bull 1979;86:420-428; intervals also McGraw & Wong, Psychol
Methods 1996;1:30-46 (from memory, checked against a second library). It depends on how much the
targets differ: for the error of a measurement itself use ``repeatability``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

Floats = NDArray[np.float64]

ONE_WAY, AGREEMENT, CONSISTENCY = "one_way", "agreement", "consistency"


@dataclass(frozen=True, slots=True)
class MeanSquares:
    """Two-way table of n targets by k judges: mean squares between targets, within targets,
    between judges, and the residual (BMS, WMS, JMS and EMS of Shrout & Fleiss)."""

    targets: int
    judges: int
    between: float
    within: float
    judge: float
    residual: float


@dataclass(frozen=True, slots=True)
class Coefficient:
    """One coefficient with its 95 % interval: at most 1, and below 0 where judges differ most.

    ``None`` where the formula divides by nothing, as it may far below 0.
    """

    form: str
    averaged: bool
    value: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class IntraclassCorrelation:
    """Six coefficients, or ``None`` throughout with ``reason``.

    ``form`` is ``one_way`` (each target by other judges), ``agreement`` (judges drawn from many)
    or ``consistency`` (these judges alone, their levels left aside); ``averaged`` is the mean of
    all k judges. ``incomplete`` targets were left out. ``reason`` is ``too_few_targets``,
    ``one_judge``, ``targets_are_equal``, or ``no_residual`` (judges differ by constants only).
    """

    squares: MeanSquares | None
    coefficients: tuple[Coefficient, ...]
    incomplete: int
    reason: str | None = None

    def coefficient(self, form: str, *, averaged: bool = False) -> Coefficient | None:
        """The coefficient of one form; ``None`` where there is none."""
        matching = (c for c in self.coefficients if (c.form, c.averaged) == (form, averaged))
        return next(matching, None)


def intraclass_correlation(table: ArrayLike) -> IntraclassCorrelation:
    """All six forms from a table of shape (targets, judges), NaN missing."""
    x = np.asarray(table, np.float64)
    if x.ndim != 2:
        raise ValueError(f"the table must be targets by judges, not of shape {x.shape}")
    complete = x[np.isfinite(x).all(axis=1)]
    incomplete = len(x) - len(complete)
    if x.shape[1] < 2 or len(complete) < 2:
        reason = "one_judge" if x.shape[1] < 2 else "too_few_targets"
        return IntraclassCorrelation(None, (), incomplete, reason)
    squares = mean_squares(complete)
    slight = 1e-20 * max(float(np.abs(complete).max()) ** 2, 1e-300)
    if not squares.between > slight:
        return IntraclassCorrelation(squares, (), incomplete, "targets_are_equal")
    if not squares.residual > slight:
        return IntraclassCorrelation(squares, (), incomplete, "no_residual")
    found = (*_one_way(squares), *_agreement(squares), *_consistency(squares))
    return IntraclassCorrelation(squares, found, incomplete)


def mean_squares(table: Floats) -> MeanSquares:
    """Mean squares of a complete table of at least two targets by two judges."""
    n, k = table.shape
    x = table - table.mean()
    of_targets, of_judges = x.mean(axis=1), x.mean(axis=0)
    residual = x - of_targets[:, None] - of_judges
    return MeanSquares(
        targets=n,
        judges=k,
        between=float(k * (of_targets**2).sum() / (n - 1)),
        within=float(((x - of_targets[:, None]) ** 2).sum() / (n * (k - 1))),
        judge=float(n * (of_judges**2).sum() / (k - 1)),
        residual=float((residual**2).sum() / ((n - 1) * (k - 1))),
    )


def _one_way(ms: MeanSquares) -> tuple[Coefficient, Coefficient]:
    n, k = ms.targets, ms.judges
    return _from_ratio(ONE_WAY, ms.between / ms.within, k, (n - 1, n * (k - 1)))


def _consistency(ms: MeanSquares) -> tuple[Coefficient, Coefficient]:
    n, k = ms.targets, ms.judges
    return _from_ratio(CONSISTENCY, ms.between / ms.residual, k, (n - 1, (n - 1) * (k - 1)))


def _from_ratio(
    form: str, f: float, k: int, df: tuple[int, int]
) -> tuple[Coefficient, Coefficient]:
    """Coefficients that depend on one F ratio alone, single and averaged."""
    low, high = f / float(stats.f.ppf(0.975, *df)), f * float(stats.f.ppf(0.975, *df[::-1]))
    ends = (f, low, high)
    return (
        Coefficient(form, False, *((each - 1) / (each + k - 1) for each in ends)),
        Coefficient(form, True, *(1 - 1 / each for each in ends)),
    )


def _agreement(ms: MeanSquares) -> tuple[Coefficient, Coefficient]:
    n, k = ms.targets, ms.judges
    of_judges = k * (ms.judge - ms.residual) / n
    value = (ms.between - ms.residual) / (ms.between + (k - 1) * ms.residual + of_judges)
    df = _agreement_df(ms, value)
    first, second = (float(stats.f.ppf(0.975, *pair)) for pair in ((n - 1, df), (df, n - 1)))
    rest = k * ms.judge + (k * n - k - n) * ms.residual
    low = _quotient(n * (ms.between - first * ms.residual), first * rest + n * ms.between)
    high = _quotient(n * (second * ms.between - ms.residual), rest + n * second * ms.between)
    averaged = _quotient(ms.between - ms.residual, ms.between + (ms.judge - ms.residual) / n)
    ends: tuple[float | None, float | None] = (None, None)
    if low is None or high is None:
        low = high = None
    else:
        ends = (_quotient(k * low, 1 + (k - 1) * low), _quotient(k * high, 1 + (k - 1) * high))
    return (
        Coefficient(AGREEMENT, False, value, low, high),
        Coefficient(AGREEMENT, True, averaged, *ends),
    )


def _quotient(above: float, below: float) -> float | None:
    # Where the degrees of freedom nearly vanish an F point is infinite, and nothing can be told.
    return above / below if below > 0 and math.isfinite(above) and math.isfinite(below) else None


def _agreement_df(ms: MeanSquares, value: float) -> float:
    """Satterthwaite's degrees of freedom of the judges and the residual together."""
    n, k = ms.targets, ms.judges
    judge = k * value * ms.judge / ms.residual
    rest = n * (1 + (k - 1) * value) - k * value
    above = (k - 1) * (n - 1) * (judge + rest) ** 2
    return float(above / ((n - 1) * judge**2 + rest**2))
