"""How far results of one person differ from test to test: error of measurement.

By the same tester and by another are two different things and are never pooled: repeatability
and reproducibility. Bland & Altman, BMJ 1996;313:744 (within-subject SD from repeats).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from analytics.statistics.anova import one_way

Floats = NDArray[np.float64]
Codes = NDArray[np.int64]
Labels = NDArray[Any]

# 1.96 times the root of 2: two results of one person differ by less in 95 of 100 cases.
DIFFERENCE_95: Final = 1.959963984540054 * math.sqrt(2)


@dataclass(frozen=True, slots=True)
class MeasurementError:
    """Within-subject SD with its 95 % interval, in the unit of the values.

    ``sd`` is also called the standard error of measurement; ``smallest_change`` (2.77 sd, the
    repeatability coefficient, MDC95) is what two results of one subject must differ by to tell a
    change from it. On the log scale ``sd`` is that of natural logarithms, and ``smallest_change``
    the ratio. ``df`` may be a fraction. ``None`` with ``reason``: ``no_repeats``,
    ``no_other_tester`` or ``values_not_positive``.
    """

    subjects: int
    values: int
    df: float
    sd: float | None
    sd_low: float | None
    sd_high: float | None
    smallest_change: float | None
    log_scale: bool
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class ErrorsApart:
    """Error by the same tester and by any tester; ``tester_sd`` is what testers add to it."""

    same_tester: MeasurementError
    any_tester: MeasurementError
    tester_sd: float | None


def within_subject(
    values: ArrayLike, subjects: ArrayLike, *, log_scale: bool = False
) -> MeasurementError:
    """Within-subject SD of repeats (n,) by one-way analysis of variance on ``subjects`` (n,).

    All repeats must be of one kind (same tester, or each by another tester); see ``errors_apart``.
    """
    y, labels = _clean(values, subjects)
    if log_scale and (y <= 0).any():
        return _untold(y, labels, log_scale, "values_not_positive")
    logged = np.log(y) if log_scale else y
    df = len(y) - len(np.unique(labels))
    if df == 0:
        return _untold(y, labels, log_scale, "no_repeats")
    variance = one_way(logged, labels).within_ms
    # One subject alone has no variation between subjects, but it has repeats.
    spread = float(logged.var(ddof=1)) if variance is None else variance
    return _error(y, labels, spread, float(df), log_scale)


def errors_apart(
    values: ArrayLike, subjects: ArrayLike, testers: ArrayLike, *, log_scale: bool = False
) -> ErrorsApart:
    """Repeats of subjects by the same and by other testers, kept apart.

    The error by the same tester comes from repeats of one subject by one tester; that of any
    tester adds the variance between testers within a subject, by nested analysis of variance,
    with Satterthwaite's degrees of freedom. Subject, tester and value of length n each.
    """
    y, subject, tester = _clean(values, subjects, testers)
    cells = _numbers(subject) * (len(tester) + 1) + _numbers(tester)
    same = within_subject(y, cells, log_scale=log_scale)
    if same.reason == "values_not_positive":
        return ErrorsApart(same, same, None)
    nested = _nested(np.log(y) if log_scale else y, _numbers(subject), _numbers(cells))
    if nested.df == 0:
        return ErrorsApart(same, _untold(y, subject, log_scale, "no_other_tester"), None)
    within = (same.sd or 0.0) ** 2
    between = max(0.0, (nested.mean_square - within) / nested.repeats)
    df = same.df
    if between > 0:
        alone = within * (1 - 1 / nested.repeats)
        df = _satterthwaite(nested.mean_square / nested.repeats, nested.df, alone, same.df)
    found = _error(y, subject, within + between, df, log_scale)
    return ErrorsApart(same, found, None if same.sd is None else math.sqrt(between))


@dataclass(frozen=True, slots=True)
class _Nested:
    """Mean square between the testers of a subject; its expectation is e^2 + repeats * t^2."""

    mean_square: float
    df: int
    repeats: float


def _nested(y: Floats, subject: Codes, cell: Codes) -> _Nested:
    sizes = np.bincount(cell).astype(np.float64)
    means = np.bincount(cell, y) / sizes
    owner = np.zeros(len(sizes), np.int64)
    owner[cell] = subject
    total = np.bincount(owner, sizes)
    df = len(sizes) - len(total)
    if df == 0:
        return _Nested(0.0, 0, 1.0)
    centre = np.bincount(owner, sizes * means) / total
    squares = float((sizes * (means - centre[owner]) ** 2).sum())
    repeats = (len(y) - float((np.bincount(owner, sizes**2) / total).sum())) / df
    return _Nested(squares / df, df, max(repeats, 1.0))


def _satterthwaite(first: float, first_df: float, second: float, second_df: float) -> float:
    """Degrees of freedom of the sum of two mean squares."""
    below = first**2 / first_df + (second**2 / second_df if second_df else 0.0)
    return (first + second) ** 2 / below if below > 0 else first_df + second_df


def _error(
    y: Floats, labels: Labels, variance: float, df: float, log_scale: bool
) -> MeasurementError:
    sd = math.sqrt(variance)
    # chi-square limits: the larger point belongs to the lower limit.
    low, high = (sd * math.sqrt(df / float(stats.chi2.ppf(p, df))) for p in (0.975, 0.025))
    change = DIFFERENCE_95 * sd
    change = math.exp(change) if log_scale else change
    subjects = len(np.unique(labels))
    return MeasurementError(subjects, len(y), df, sd, low, high, change, log_scale)


def _untold(y: Floats, labels: Labels, log_scale: bool, reason: str) -> MeasurementError:
    subjects = len(np.unique(labels))
    return MeasurementError(subjects, len(y), 0.0, None, None, None, None, log_scale, reason)


def _numbers(labels: Labels) -> Codes:
    return np.unique(labels, return_inverse=True)[1].astype(np.int64)


def _clean(values: ArrayLike, *labels: ArrayLike) -> tuple[Any, ...]:
    """Values that are there and the labels of each, all of one length."""
    y = np.asarray(values, np.float64).ravel()
    named = [np.asarray(each).ravel() for each in labels]
    if {len(each) for each in named} != {len(y)}:
        raise ValueError(f"{len(y)} values with {[len(each) for each in named]} labels")
    there = np.isfinite(y)
    return (y[there], *(each[there] for each in named))
