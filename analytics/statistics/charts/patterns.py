"""The patterns that run rules look for, each a question asked of every point.

Each takes standardised points z = (point - centre) / its standard deviation, along the last axis,
and answers for every point whether the pattern is complete there; before that many points have
come, no. A missing point (NaN) breaks every pattern.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# A point on a line is not beyond it, though rounding may have put it there.
_TIE: Final = 1e-9


def beyond(z: ArrayLike, width: float) -> Flags:
    """The point lies beyond ``width`` on either side."""
    flags: Flags = np.abs(_floats(z)) > width + _TIE
    return flags


def some_of(z: ArrayLike, *, count: int, window: int, width: float) -> Flags:
    """Of the last ``window`` points ``count`` lie beyond ``width`` on one side, this one too.

    That this one does keeps a mark off a point near the centre that only follows the others.
    """
    points = _floats(z)
    above, below = points > width + _TIE, points < -width - _TIE
    return (_at_least(above, count, window) & above) | (_at_least(below, count, window) & below)


def one_side(z: ArrayLike, length: int) -> Flags:
    """The last ``length`` points lie on one side of the centre, none of them on it."""
    return some_of(z, count=length, window=length, width=0.0)


def trend(z: ArrayLike, length: int) -> Flags:
    """Each of the last ``length`` points is above the one before it, or each below."""
    points = _floats(z)
    return _where_it_ends(one_side(np.diff(points, axis=-1), length - 1), points)


def alternating(z: ArrayLike, length: int) -> Flags:
    """The last ``length`` points go up and down in turn."""
    points = _floats(z)
    steps = np.diff(points, axis=-1)
    way = np.where(np.abs(steps) > _TIE, np.sign(steps), 0.0)
    turned = way[..., 1:] * way[..., :-1] < 0
    return _where_it_ends(_at_least(turned, length - 2, length - 2), points)


def within(z: ArrayLike, *, length: int, width: float) -> Flags:
    """The last ``length`` points lie within ``width`` of the centre, or on that line."""
    return _at_least(np.abs(_floats(z)) <= width + _TIE, length, length)


def both_sides_beyond(z: ArrayLike, *, length: int, width: float) -> Flags:
    """The last ``length`` points lie beyond ``width``, and some of them on each side."""
    points = _floats(z)
    above, below = points > width + _TIE, points < -width - _TIE
    on_both = _at_least(above, 1, length) & _at_least(below, 1, length)
    return on_both & _at_least(above | below, length, length)


def _floats(z: ArrayLike) -> Floats:
    return np.asarray(z, dtype=np.float64)


def _at_least(flags: Flags, count: int, window: int) -> Flags:
    """Of the last ``window`` flags, all there, at least ``count`` are true."""
    answer = np.zeros(flags.shape, dtype=np.bool_)
    if flags.shape[-1] >= window:
        answer[..., window - 1 :] = sliding_window_view(flags, window, axis=-1).sum(-1) >= count
    return answer


def _where_it_ends(flags: Flags, points: Floats) -> Flags:
    """Answers about steps or turns, given to the point at which each of them ends."""
    answer = np.zeros(points.shape, dtype=np.bool_)
    if flags.shape[-1] > 0:
        answer[..., -flags.shape[-1] :] = flags
    return answer
