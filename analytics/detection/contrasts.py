"""The difference between months seen and months expected, and what it may be by chance."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from analytics.detection.shares import logit, mid_p_distance
from analytics.detection.sums import Sums

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Contrast:
    """Means in units of their score, shares on the logit scale; all arrays of one shape.

    ``expected`` is what the months seen should show, ``doubt`` its variance; ``difference`` is
    seen less expected (a share's by the slope at the expected), ``variance`` that of chance and
    doubt together. NaN where there is nothing to compare.
    """

    seen: Sums
    share: Flags
    expected: Floats
    doubt: Floats
    difference: Floats
    variance: Floats


@dataclass(frozen=True, slots=True)
class Own:
    """A subject's own place against the network: deviation and its variance."""

    place: Floats
    doubt: Floats


def own_past(past: Sums, share: Flags, *, sigma2: Floats, tau2: Floats) -> Own:
    """Where the past puts a subject, drawn towards the network, by one standard error at most.

    The limit keeps a subject that really lies apart from being drawn to where it never was.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = (past.observed - past.expected) / past.n
        mean_variance = sigma2 / past.n
        events, rest = past.observed + 0.5, past.n - past.observed + 0.5
        expected_rest = past.n - past.expected + 0.5
        ratio = np.log(events / rest) - np.log((past.expected + 0.5) / expected_rest)
        place = np.where(share, ratio, mean)
        variance = np.where(share, 1.0 / events + 1.0 / rest, mean_variance)
        keep = tau2 / (tau2 + variance)
        reach = np.sqrt(variance)
        drawn = place - np.clip(place * (1.0 - keep), -reach, reach)
        kept = np.where(np.abs(place) > 0, drawn / place, keep)
        doubt = variance * np.maximum(keep, kept)
    known = past.n > 0
    return Own(np.where(known, drawn, np.nan), np.where(known, doubt, np.nan))


def contrast(seen: Sums, own: Own, share: Flags, *, sigma2: Floats) -> Contrast:
    """What was seen against the network's months moved to the subject's own place."""
    with np.errstate(invalid="ignore", divide="ignore"):
        network = seen.expected / seen.n
        expected = np.where(share, logit(network), network) + own.place
        likely = np.where(share, expit(expected), expected)
        slope = np.where(share, likely * (1.0 - likely), 1.0)
        difference = (seen.observed / seen.n - likely) / slope
        chance = np.where(share, 1.0 / (seen.n * slope), sigma2 / seen.n)
    return Contrast(
        seen,
        np.broadcast_to(share, expected.shape),
        expected,
        own.doubt + 0.0 * expected,
        difference,
        chance + own.doubt,
    )


def moved(one: Contrast, by: Floats, doubt: Floats) -> Contrast:
    """The same with the expected moved, and with the doubt of that move added."""
    return replace(
        one,
        expected=one.expected + by,
        difference=one.difference - by,
        doubt=one.doubt + doubt,
        variance=one.variance + doubt,
    )


def distances(one: Contrast, added: Floats, *, approximation_until: float) -> Floats:
    """Difference in standard errors; ``added`` is the variance that honest subjects have too.

    A share's tail is computed exactly where either of two normal approximations (at the
    expected, and of the logit) lies beyond ``approximation_until``: nearer by nobody asks.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        z = one.difference / np.sqrt(one.variance + added)
    if not one.share.any():
        return z
    far = one.share & np.isfinite(z)
    far &= (np.abs(z) > approximation_until) | (_logit_distance(one, added) > approximation_until)
    z = z.copy()
    added = np.broadcast_to(added, z.shape)
    z[far] = mid_p_distance(
        one.seen.observed[far], one.seen.n[far], one.expected[far], (one.doubt + added)[far]
    )
    return z


def _logit_distance(one: Contrast, added: Floats) -> Floats:
    with np.errstate(invalid="ignore", divide="ignore"):
        events, rest = one.seen.observed + 0.5, one.seen.n - one.seen.observed + 0.5
        difference = np.log(events / rest) - one.expected
        variance = 1.0 / events + 1.0 / rest + one.doubt + added
        return np.where(one.share, np.abs(difference) / np.sqrt(variance), 0.0)


def enough(
    one: Contrast,
    *,
    visits: Floats | float,
    past: Sums | None = None,
    past_visits: float = 0.0,
    past_months: float = 0.0,
) -> Flags:
    """Where visits (and, for a change, past visits and months) are enough to say anything."""
    known = np.isfinite(one.difference) & (one.variance > 0) & (one.seen.n >= visits)
    if past is None:
        return known
    return known & (past.n >= past_visits) & (past.months >= past_months)
