"""Scales on which a share or a ratio of counts has nearly the same error whatever its size.

Each gives values with their standard errors where chance alone is at work (Spiegelhalter, Qual
Saf Health Care 2005;14:347-351; Anscombe, Biometrika 1948;35:246-254, for the last).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Transformed:
    """Values on another scale and their standard errors; NaN where there is nothing to take."""

    values: Floats
    standard_errors: Floats


def arcsine(share: ArrayLike) -> Floats:
    """Angle of a share, arcsin of its root, in radians from 0 to pi / 2."""
    angle: Floats = np.arcsin(np.sqrt(np.clip(np.asarray(share, dtype=np.float64), 0.0, 1.0)))
    return angle


def share_of_angle(angle: ArrayLike) -> Floats:
    """Share of an angle; one beyond 0 to pi / 2 is put onto the end."""
    share: Floats = np.sin(np.clip(np.asarray(angle, dtype=np.float64), 0.0, np.pi / 2)) ** 2
    return share


def share_of_anscombe(angle: ArrayLike, trials: ArrayLike) -> Floats:
    """Share events / trials whose Anscombe angle this is, not outside 0 to 1."""
    n = np.asarray(trials, dtype=np.float64)
    share: Floats = np.clip((share_of_angle(angle) * (n + 0.75) - 0.375) / n, 0.0, 1.0)
    return share


def arcsine_shares(events: ArrayLike, trials: ArrayLike) -> Transformed:
    """Angles of events / trials, with standard errors 1 / (2 root n)."""
    r, n = _counts(events, trials)
    return Transformed(arcsine(r / n), 1 / (2 * np.sqrt(n)))


def anscombe_shares(events: ArrayLike, trials: ArrayLike) -> Transformed:
    """Angles of (events + 3/8) / (trials + 3/4), with standard errors 1 / (2 root(n + 1/2)).

    Where one event or two are expected the plain angle has nearly twice its stated variance and
    this one about its own (test_transforms.py); with many events they are the same.
    """
    r, n = _counts(events, trials)
    return Transformed(arcsine((r + 0.375) / (n + 0.75)), 1 / (2 * np.sqrt(n + 0.5)))


def root_ratios(observed: ArrayLike, expected: ArrayLike) -> Transformed:
    """Roots of observed / expected counts, with standard errors 1 / (2 root E)."""
    o, e = _counts(observed, expected, bounded=False)
    return Transformed(np.sqrt(o / e), 1 / (2 * np.sqrt(e)))


def log_ratios(observed: ArrayLike, expected: ArrayLike) -> Transformed:
    """Natural logs of observed / expected counts, with standard errors 1 / root E.

    NaN where nothing was observed: there is no log of 0, and the root serves there.
    """
    o, e = _counts(observed, expected, bounded=False)
    seen = np.where(o > 0, o, np.nan)
    return Transformed(np.log(seen / e), np.where(o > 0, 1 / np.sqrt(e), np.nan))


def _counts(part: ArrayLike, whole: ArrayLike, *, bounded: bool = True) -> tuple[Floats, Floats]:
    r, n = np.asarray(part, dtype=np.float64), np.asarray(whole, dtype=np.float64)
    if r.shape != n.shape:
        raise ValueError(f"as many counts as totals were wanted: {r.shape} and {n.shape}")
    odd = (r < 0) | (n < 0) | (bounded & (r > n))
    if np.any(odd):
        raise ValueError(f"no such counts: {r[odd][0]:g} of {n[odd][0]:g}")
    return r, np.where(n > 0, n, np.nan)
