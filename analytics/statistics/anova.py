"""One-way analysis of variance with groups of any size."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class OneWay:
    """Variation between and within groups, or ``reason`` why it cannot be told.

    ``common_size`` is the size that groups of unequal size stand for: (N - sum n_i^2/N)/(g - 1).
    ``f`` and ``p_value`` are ``None`` where there is no variation within groups.
    """

    groups: int
    values: int
    mean: float | None
    between_ms: float | None
    within_ms: float | None
    between_df: int
    within_df: int
    common_size: float | None
    f: float | None
    p_value: float | None
    reason: str | None = None


def one_way(values: ArrayLike, groups: ArrayLike) -> OneWay:
    """Analysis of variance of ``values`` (n,) by ``groups`` (n,); missing values are left out.

    ``reason`` is ``no_values``, ``one_group`` or ``no_repeats`` (no group of two or more).
    Raises ``ValueError`` where the lengths differ.
    """
    y, labels = np.asarray(values, np.float64).ravel(), np.asarray(groups).ravel()
    if len(y) != len(labels):
        raise ValueError(f"{len(y)} values with {len(labels)} groups")
    present = np.isfinite(y)
    y, labels = y[present], labels[present]
    if len(y) == 0:
        return _untold(0, 0, None, "no_values")
    _, number = np.unique(labels, return_inverse=True)
    sizes = np.bincount(number).astype(np.float64)
    # Around one of the values, so that large numbers close together keep their digits.
    origin = float(y[0])
    means = np.bincount(number, y - origin) / sizes
    mean = float((sizes * means).sum() / len(y))
    if len(sizes) < 2 or len(y) == len(sizes):
        reason = "one_group" if len(sizes) < 2 else "no_repeats"
        return _untold(len(sizes), len(y), origin + mean, reason)
    between_df, within_df = len(sizes) - 1, len(y) - len(sizes)
    between = float((sizes * (means - mean) ** 2).sum()) / between_df
    within = float(((y - origin - means[number]) ** 2).sum()) / within_df
    f = between / within if within > 0 else None
    return OneWay(
        groups=len(sizes),
        values=len(y),
        mean=origin + mean,
        between_ms=between,
        within_ms=within,
        between_df=between_df,
        within_df=within_df,
        common_size=float((len(y) - (sizes**2).sum() / len(y)) / between_df),
        f=f,
        p_value=None if f is None else float(stats.f.sf(f, between_df, within_df)),
    )


def _untold(groups: int, values: int, mean: float | None, reason: str) -> OneWay:
    return OneWay(
        groups=groups,
        values=values,
        mean=mean,
        between_ms=None,
        within_ms=None,
        between_df=max(groups - 1, 0),
        within_df=max(values - groups, 0),
        common_size=None,
        f=None,
        p_value=None,
        reason=reason,
    )
