"""How far a count lies from what was expected, where a normal approximation is wrong: the tails."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.polynomial.hermite_e import hermegauss
from numpy.typing import NDArray
from scipy.special import betainc, expit, ndtri

Floats = NDArray[np.float64]

NODES: Final = 21
# The smallest tail told apart: a distance of 37 standard errors.
_SMALLEST: Final = 1e-300
_PLACES, _weights = hermegauss(NODES)
_WEIGHTS: Final = _weights / _weights.sum()


def logit(share: Floats) -> Floats:
    """ln(p / (1 - p)); NaN outside 0 < p < 1."""
    inside = np.where((share > 0) & (share < 1), share, np.nan)
    return np.asarray(np.log(inside / (1.0 - inside)))


def mid_p_distance(events: Floats, trials: Floats, centre: Floats, variance: Floats) -> Floats:
    """Signed distance in standard normal units of ``events`` among ``trials``.

    The expected share has a normal logit of this centre and variance; the tail beyond the events,
    half of their own probability in it, is summed over 21 Gauss-Hermite nodes and turned into the
    distance that has the same tail. Finite wherever all four are and 0 <= events <= trials.
    """
    centre_share = expit(centre)
    above = events >= trials * centre_share
    # The lower tail is the upper tail of what did not happen.
    side = np.where(above, 1.0, -1.0)
    count = np.where(above, events, trials - events)
    tail = np.zeros(np.broadcast(events, centre).shape)
    spread = np.sqrt(variance)
    for place, weight in zip(_PLACES, _WEIGHTS, strict=True):
        tail += weight * _upper_mid_p(count, trials, expit(side * centre + place * spread))
    return np.asarray(side * -ndtri(np.clip(tail, _SMALLEST, 1.0 - 1e-16)))


def _upper_mid_p(count: Floats, trials: Floats, share: Floats) -> Floats:
    """P(more than ``count``) and half of P(``count``), binomial."""
    at_least = np.where(count > 0, betainc(np.maximum(count, 1e-9), trials - count + 1.0, share), 1)
    rest = trials - count
    more = np.where(rest > 0, betainc(count + 1.0, np.maximum(rest, 1e-9), share), 0.0)
    return np.asarray(0.5 * (at_least + more))
