"""The last build as a table: where everybody stands, and how little could have been seen."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from analytics.detection.contrasts import Contrast
from analytics.detection.evaluation import Table
from analytics.detection.network import Network
from analytics.detection.snapshot import Snapshot

Floats = NDArray[np.float64]

# Normal distance of a chance of 80 %.
POWER_80: Final = 0.84
CHANGED, DIFFERS = 0, 1


def table(network: Network, shot: Snapshot) -> Table:
    """Figures in the measures' units; shares between 0 and 1."""
    level, seen = shot.level_before_colleagues, shot.level.seen
    value = _ratio(seen.observed, seen.n)
    reason = _reason(network, shot)
    blank = reason != ""
    pull = shot.tau2 / (shot.tau2 + np.where(level.variance > 0, level.variance, np.nan))
    shrunken = level.expected + np.where(np.isfinite(pull), pull, 0.0) * level.difference
    if_share = network.shares
    return Table(
        n=seen.n,
        value=value,
        expected=_blanked(_in_unit(level.expected, if_share), blank),
        shrunken=_blanked(_in_unit(_shrunken(level, shrunken, pull, if_share), if_share), blank),
        z_level=shot.level_z,
        z_change=shot.change_z,
        smallest_level=np.where(
            np.isnan(shot.level_z),
            np.nan,
            _smallest(network, shot.level, shot.tau2, channel=DIFFERS),
        ),
        smallest_change=np.where(
            np.isnan(shot.change_z),
            np.nan,
            _smallest(network, shot.change, shot.omega2, channel=CHANGED),
        ),
        reason=reason,
        reason_change=_reason_change(network, shot, reason),
    )


def nothing(network: Network) -> Table:
    """The table of a network with no month or no tester."""
    shape = (len(network.tallies.measures), len(network.tallies.testers))
    windows = (len(network.policy.windows), *shape)
    none = np.full(shape, np.nan)
    return Table(
        n=np.zeros(shape),
        value=none,
        expected=none,
        shrunken=none,
        z_level=none,
        z_change=np.full(windows, np.nan),
        smallest_level=none,
        smallest_change=np.full(windows, np.nan),
        reason=np.full(shape, "no_visits"),
        reason_change=np.full(shape, "no_visits"),
    )


def _shrunken(level: Contrast, mean: Floats, pull: Floats, share: NDArray[np.bool_]) -> Floats:
    """A share is drawn on the logit scale by its own logit, not by the slope at the network."""
    with np.errstate(invalid="ignore", divide="ignore"):
        events, rest = level.seen.observed + 0.5, level.seen.n - level.seen.observed + 0.5
        own = np.log(events / rest)
    by_logit = level.expected + np.where(np.isfinite(pull), pull, 0.0) * (own - level.expected)
    return np.where(share, by_logit, mean)


def _smallest(network: Network, one: Contrast, added: Floats, *, channel: int) -> Floats:
    """(cap + 0.84) standard errors in the measure's unit, on the side that matters."""
    limit = network.caps[channel] + POWER_80
    if channel == CHANGED:
        limit = limit + np.array(network.policy.window_added)[:, None, None]
    with np.errstate(invalid="ignore"):
        far = limit * np.sqrt(one.variance + added)
    side = np.where(network.direction < 0, -1.0, 1.0)
    moved = np.abs(expit(one.expected + side * far) - expit(one.expected))
    return np.asarray(np.where(network.shares, moved, far))


def _in_unit(values: Floats, share: NDArray[np.bool_]) -> Floats:
    return np.where(share, expit(values), values)


def _ratio(part: Floats, whole: Floats) -> Floats:
    return np.where(whole > 0, part / np.where(whole > 0, whole, 1.0), np.nan)


def _blanked(values: Floats, blank: NDArray[np.bool_]) -> Floats:
    return np.where(blank | ~np.isfinite(values), np.nan, values)


def _reason(network: Network, shot: Snapshot) -> NDArray[np.str_]:
    n = shot.level.seen.n
    return np.select(
        [n == 0, n < network.minimum, np.isnan(shot.level_z)],
        ["no_visits", "few_visits", "few_testers"],
        default="",
    )


def _reason_change(network: Network, shot: Snapshot, level: NDArray[np.str_]) -> NDArray[np.str_]:
    policy, past = network.policy, shot.past
    tested = np.isfinite(shot.change_z).any(axis=0)
    short = (past.n < policy.past_visits) | (past.months < policy.past_months)
    few = shot.change.seen.n < policy.window_visits
    return np.select(
        [tested, level == "no_visits", few.all(axis=0), (short | few).all(axis=0)],
        ["", "no_visits", "few_visits", "short_past"],
        default="few_testers",
    )
