"""Locations and spreads that a few far-off values cannot drag along.

Every function works along one axis; missing values (NaN, and infinities with them) are left out.
Constants as ISO 13528:2022 rounds them: 1.483 for the MAD, 0.7413 for the interquartile range,
1.134 and 1.5 in algorithm A (read in a public copy of its worked examples).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]
Flags = NDArray[np.bool_]

MAD_TO_SD: Final = 1.483
# The mean absolute deviation of normal data times this is their SD (exactly the root of pi/2).
MEAN_DEVIATION_TO_SD: Final = 1.253314
IQR_TO_SD: Final = 0.7413
CLIP_SDS: Final = 1.5
CLIPPED_TO_SD: Final = 1.134
# 95 % as efficient as the mean on normal data (Tukey's biweight; from memory).
BIWEIGHT_SDS: Final = 4.685
_MOST_ROUNDS: Final = 1000
# A scale this much smaller than at the start is on its way to 0: over half of the values are equal.
_VANISHED: Final = 1e-9


@dataclass(frozen=True, slots=True)
class RobustMean:
    """A location with its spread and standard error; one entry for each slice along the axis.

    ``location`` is NaN where a slice holds no value. ``scale`` is the robust SD that belongs to
    the method and ``se`` the standard error of the location: NaN where too few values are there
    to tell, 0 where all are equal. ``n`` counts the values present.
    """

    location: Floats
    scale: Floats
    se: Floats
    n: Counts


def median(values: ArrayLike, *, weights: ArrayLike | None = None, axis: int = -1) -> Floats:
    """Median along ``axis``; with weights, the value at which half of the weight is reached.

    Weights have the shape of ``values`` and are not negative; a value of weight 0 is left out.
    NaN where no value is present.
    """
    if weights is None:
        ordered, n = _ordered(values, axis)
        return _quantile(ordered, n, 0.5)
    return _weighted_median(*_with_weights(values, weights, axis))


def made(values: ArrayLike, *, weights: ArrayLike | None = None, axis: int = -1) -> Floats:
    """MADe: 1.483 times the median distance from the median; NaN for fewer than two values."""
    x, w = _with_weights(values, weights, axis)
    centre = _weighted_median(x, w)
    spread = MAD_TO_SD * _weighted_median(np.abs(x - centre[..., None]), w)
    return np.where((w > 0).sum(-1) >= 2, spread, np.nan)


def niqr(values: ArrayLike, *, axis: int = -1) -> Floats:
    """Normalised interquartile range, 0.7413 (Q3 - Q1); NaN for fewer than two values.

    The quartiles lie at 1 + (n - 1)/4 and 1 + 3(n - 1)/4, between neighbours by proportion.
    """
    ordered, n = _ordered(values, axis)
    spread = IQR_TO_SD * (_quantile(ordered, n, 0.75) - _quantile(ordered, n, 0.25))
    return np.where(n >= 2, spread, np.nan)


def algorithm_a(values: ArrayLike, *, figures: int = 3, axis: int = -1) -> RobustMean:
    """Robust mean and SD by algorithm A of ISO 13528, with its cautious u = 1.25 s*/sqrt(n).

    Starts from the median and 1.483 MAD, clips what lies beyond 1.5 s* and takes mean and 1.134
    SD of the clipped, until neither changes in the third significant figure of s* (``figures``
    for a stricter rule). Where over half of the values are equal the MAD is 0 and would freeze
    the start: there the plain SD is taken (from memory, a note of the standard). A slice that has
    not settled after a thousand rounds has NaN as scale and standard error.
    """
    if figures < 1:
        raise ValueError(f"figures must be at least 1, not {figures}")
    ordered, n = _ordered(values, axis)
    location = _quantile(ordered, n, 0.5)
    scale = np.where(n >= 2, MAD_TO_SD * _mad(ordered, n, location), np.nan)
    scale = np.where(scale == 0, _mean_and_sd(ordered, n)[1], scale)
    vanished = _VANISHED * scale
    moving = np.isfinite(scale) & (scale > 0)
    for _ in range(_MOST_ROUNDS):
        if not moving.any():
            break
        reach = (CLIP_SDS * scale)[..., None]
        clipped = np.clip(ordered, location[..., None] - reach, location[..., None] + reach)
        new_location, sd = _mean_and_sd(clipped, n)
        new_scale = np.where(sd > vanished, CLIPPED_TO_SD * sd, 0.0)
        steady = _same_figures(location, scale, new_location, new_scale, figures)
        location = np.where(moving, new_location, location)
        scale = np.where(moving, new_scale, scale)
        moving &= ~steady & (scale > 0)
    scale = np.where(moving, np.nan, scale)
    return _result(location, scale, 1.25 * scale / np.sqrt(np.maximum(n, 1)), n)


def trimmed_mean(values: ArrayLike, *, proportion: float = 0.2, axis: int = -1) -> RobustMean:
    """Mean without the lowest and highest ``proportion`` of the values (rounded down).

    ``scale`` is the SD of the winsorised values; the standard error is that of Yuen, Biometrika
    1974;61:165-170 (from memory): sqrt(SS_w / (h(h - 1))) with h values kept.
    """
    if not 0 <= proportion < 0.5:
        raise ValueError(f"the proportion must be at least 0 and under 0.5, not {proportion}")
    ordered, n = _ordered(values, axis)
    # Without the tiny part 0.2 * 15 falls below 3.
    cut = np.floor(proportion * n + 1e-9).astype(np.int64)
    kept = n - 2 * cut
    place = np.arange(ordered.shape[-1])
    inside = (place >= cut[..., None]) & (place < (n - cut)[..., None])
    mean = _masked_mean(ordered, inside)
    low = _at(ordered, cut)
    high = _at(ordered, np.maximum(n - cut - 1, 0))
    winsorised = np.clip(ordered, low[..., None], high[..., None])
    _, scale = _mean_and_sd(winsorised, n)
    squares = scale**2 * (n - 1)
    se = np.sqrt(squares / np.where(kept >= 2, kept * (kept - 1), np.nan))
    return _result(mean, scale, se, n)


def biweight(
    values: ArrayLike,
    *,
    weights: ArrayLike | None = None,
    reach: float = BIWEIGHT_SDS,
    axis: int = -1,
) -> RobustMean:
    """Tukey's biweight location: values beyond ``reach`` robust SDs do not count at all.

    ``scale`` is MADe (or, where the MAD is 0, 1.2533 times the mean distance from the median)
    and is held fixed while the location settles. The standard error is the asymptotic one of an
    M-estimate. Weights as in ``median``.
    """
    if not reach > 0:
        raise ValueError(f"the reach must be above 0, not {reach}")
    x, w = _with_weights(values, weights, axis)
    n = (w > 0).sum(-1)
    location = _weighted_median(x, w)
    scale = _spread_around(x, w, location)
    width = np.where(scale > 0, reach * scale, 1.0)
    for _ in range(_MOST_ROUNDS):
        u = np.clip((x - location[..., None]) / width[..., None], -1, 1)
        pull = w * (1 - np.where(np.isfinite(u), u, 1) ** 2) ** 2
        new = _ratio(np.nansum(pull * x, axis=-1), pull.sum(-1), otherwise=location)
        settled = np.abs(new - location) <= 1e-12 * width
        location = np.where(scale > 0, new, location)
        if (settled | ~(scale > 0)).all():
            break
    se = np.where(scale > 0, width * _m_estimate_error(x, w, location, width), scale)
    return _result(location, scale, se, n)


def _result(location: Floats, scale: Floats, se: Floats, n: Counts) -> RobustMean:
    # One slice is an array without axes, not a numpy number, whichever way it was computed.
    return RobustMean(
        location=np.asarray(location, np.float64),
        scale=np.asarray(scale, np.float64),
        se=np.asarray(se, np.float64),
        n=np.asarray(n, np.int64),
    )


def _m_estimate_error(x: Floats, w: Floats, location: Floats, width: Floats) -> Floats:
    u = (x - location[..., None]) / width[..., None]
    near = np.abs(np.where(np.isfinite(u), u, 2)) < 1
    u = np.where(near, u, 0)
    psi = np.where(near, w * u * (1 - u**2) ** 2, 0)
    slope = np.where(near, w * (1 - u**2) * (1 - 5 * u**2), 0).sum(-1)
    nowhere = np.full(slope.shape, np.nan)
    return _ratio(np.sqrt((psi**2).sum(-1)), np.abs(slope), otherwise=nowhere)


def _spread_around(x: Floats, w: Floats, centre: Floats) -> Floats:
    away = np.abs(x - centre[..., None])
    mad = _weighted_median(away, w)
    total = w.sum(-1)
    mean = _ratio(np.nansum(w * away, axis=-1), total, otherwise=np.full(total.shape, np.nan))
    spread = np.where(mad > 0, MAD_TO_SD * mad, MEAN_DEVIATION_TO_SD * mean)
    return np.where((w > 0).sum(-1) >= 2, spread, np.nan)


def _ordered(values: ArrayLike, axis: int) -> tuple[Floats, Counts]:
    """Values along the last axis in order, the missing last as NaN, and how many are there."""
    moved = np.moveaxis(np.atleast_1d(np.asarray(values, np.float64)), axis, -1)
    if moved.shape[-1] == 0:
        moved = np.full((*moved.shape[:-1], 1), np.nan)
    ordered = np.sort(np.where(np.isfinite(moved), moved, np.nan), axis=-1)
    return ordered, np.isfinite(ordered).sum(-1)


def _with_weights(values: ArrayLike, weights: ArrayLike | None, axis: int) -> tuple[Floats, Floats]:
    """Values in order along the last axis and their weights, 0 and NaN where missing."""
    x = np.moveaxis(np.atleast_1d(np.asarray(values, np.float64)), axis, -1)
    w = np.ones_like(x)
    if weights is not None:
        given = np.atleast_1d(np.asarray(weights, np.float64))
        if given.shape != np.atleast_1d(np.asarray(values)).shape:
            raise ValueError(f"weights have shape {given.shape}, the values {np.shape(values)}")
        if (given < 0).any():
            raise ValueError(f"a weight is negative: {given.min()}")
        w = np.moveaxis(given, axis, -1)
    if x.shape[-1] == 0:
        x, w = np.full((*x.shape[:-1], 1), np.nan), np.zeros((*x.shape[:-1], 1))
    counts = np.isfinite(x) & np.isfinite(w) & (w > 0)
    x, w = np.where(counts, x, np.nan), np.where(counts, w, 0.0)
    order = np.argsort(x, axis=-1)
    return np.take_along_axis(x, order, axis=-1), np.take_along_axis(w, order, axis=-1)


def _weighted_median(x: Floats, w: Floats) -> Floats:
    order = np.argsort(x, axis=-1)
    x, w = np.take_along_axis(x, order, axis=-1), np.take_along_axis(w, order, axis=-1)
    reached = np.cumsum(w, axis=-1)
    half = reached[..., -1:] / 2
    # A little slack, so that rounding in the sums does not decide between one value and two.
    slack = 1e-12 * reached[..., -1:]
    first = (reached >= half - slack).argmax(-1)
    second = (reached > half + slack).argmax(-1)
    return (_at(x, first) + _at(x, second)) / 2


def _at(rows: Floats, place: Counts) -> Floats:
    found: Floats = np.take_along_axis(rows, place[..., None], axis=-1)[..., 0]
    return found


def _quantile(ordered: Floats, n: Counts, share: float) -> Floats:
    place = np.maximum(n - 1, 0) * share
    below = np.floor(place).astype(np.int64)
    above = np.minimum(below + 1, np.maximum(n - 1, 0))
    low, high = _at(ordered, below), _at(ordered, above)
    return low + (place - below) * (high - low)


def _mad(ordered: Floats, n: Counts, centre: Floats) -> Floats:
    return _quantile(np.sort(np.abs(ordered - centre[..., None]), axis=-1), n, 0.5)


def _masked_mean(rows: Floats, inside: Flags) -> Floats:
    count = inside.sum(-1)
    total = np.where(inside, rows, 0.0).sum(-1)
    return _ratio(total, count, otherwise=np.full(total.shape, np.nan))


def _mean_and_sd(rows: Floats, n: Counts) -> tuple[Floats, Floats]:
    mean = _masked_mean(rows, np.isfinite(rows))
    squares = np.nansum((rows - mean[..., None]) ** 2, axis=-1)
    return mean, np.sqrt(squares / np.where(n >= 2, n - 1, np.nan))


def _ratio(above: Floats, below: Floats | Counts, *, otherwise: Floats) -> Floats:
    there = below > 0
    return np.where(there, above / np.where(there, below, 1), otherwise)


def _same_figures(
    location: Floats, scale: Floats, new_location: Floats, new_scale: Floats, figures: int
) -> Flags:
    """True where both, written to ``figures`` significant figures of the scale, are as before."""
    size = np.where(new_scale > 0, new_scale, 1.0)
    unit = 10.0 ** (np.floor(np.log10(size)) - (figures - 1))
    same: Flags = (np.round(location / unit) == np.round(new_location / unit)) & (
        np.round(scale / unit) == np.round(new_scale / unit)
    )
    return same
