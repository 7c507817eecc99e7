"""One month-end build: every test of every subject, with what the network says of chance."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from analytics.detection.colleagues import joint_move
from analytics.detection.contrasts import (
    Contrast,
    Own,
    contrast,
    distances,
    enough,
    moved,
    own_past,
)
from analytics.detection.network import Network
from analytics.detection.robust import additive_variance, trimmed_mean
from analytics.detection.sums import Cumulated, Sums, stack

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(slots=True)
class Wander:
    """How much honest subjects move from month to month: the mean over the builds so far."""

    total: Floats  # (windows, measures)
    builds: Floats  # (windows, measures)

    def learn(self, omega2: Floats, known: Flags) -> Floats:
        """Take in one build; NaN where no build could tell."""
        self.total = self.total + np.where(known, omega2, 0.0)
        self.builds = self.builds + known
        return np.where(self.builds > 0, self.total / np.maximum(self.builds, 1.0), np.nan)


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """All tests of the build of month ``at``. Windows come first: (windows, measures, testers).

    ``z`` is NaN where visits are too few. ``past`` are the first and one past the last month.
    """

    at: int
    sigma2: Floats  # (measures, 1)
    tau2: Floats  # (measures, 1)
    omega2: Floats  # (windows, measures, 1)
    centre: Floats  # (measures, 1): where the middle of the network lies off its months
    level: Contrast
    level_z: Floats
    level_before_colleagues: Contrast
    change: Contrast
    change_z: Floats
    past: Sums
    spans: list[tuple[int, int]] = field(default_factory=list)


def snapshot(
    network: Network, sums: Cumulated, unmasked: Cumulated, at: int, wander: Wander
) -> Snapshot:
    """Test everything at the end of month ``at`` (a place in the months)."""
    sigma2 = network.sigma2[:, at : at + 1]
    level, centre, tau2 = _level(network, unmasked, at, sigma2)
    change, past, spans, known = _changes(network, sums, unmasked, at, sigma2, tau2)
    added = _wander(network, change, known, wander)
    own_level = _without_colleagues(network, level, tau2)
    own_change = _without_colleagues(network, change, added)
    return Snapshot(
        at=at,
        sigma2=sigma2,
        tau2=tau2,
        omega2=added,
        centre=centre,
        level=own_level,
        level_z=_z(network, own_level, tau2, enough(level, visits=network.minimum)),
        level_before_colleagues=level,
        change=own_change,
        change_z=_z(network, own_change, added, known),
        past=past,
        spans=spans,
    )


def _level(
    network: Network, sums: Cumulated, at: int, sigma2: Floats
) -> tuple[Contrast, Floats, Floats]:
    """Each subject against the middle of the network, the middle, and how honest ones differ."""
    seen = sums.between(at + 1 - network.policy.level_months, at + 1)
    nothing = np.zeros_like(seen.n)
    about = contrast(seen, Own(nothing, nothing), network.shares, sigma2=sigma2)
    known = enough(about, visits=network.minimum)
    usable = known & _countable(about)
    middle = trimmed_mean(np.where(usable, about.difference, np.nan))[:, None]
    told = usable.sum(axis=-1, keepdims=True) >= network.policy.least_subjects
    rare = _too_rare(network, known, told)
    centre = np.where(told, middle, np.where(rare, 0.0, np.nan))
    level = contrast(seen, Own(nothing + centre, nothing), network.shares, sigma2=sigma2)
    tau2 = np.where(rare, network.policy.rare_share_variance, _additive(level, usable)[:, None])
    return level, centre, np.where(told | rare, tau2, np.nan)


def _too_rare(network: Network, known: Flags, told: Flags) -> Flags:
    """Enough subjects, but events so rare that their number tells nothing of honest spread."""
    many = known.sum(axis=-1, keepdims=True) >= network.policy.least_subjects
    return np.asarray(network.shares & many & ~told)


def _changes(
    network: Network, sums: Cumulated, unmasked: Cumulated, at: int, sigma2: Floats, tau2: Floats
) -> tuple[Contrast, Sums, list[tuple[int, int]], Flags]:
    policy = network.policy
    seen, past, spans = [], [], []
    for window in policy.windows:
        start = at + 1 - window
        first = max(start - policy.past_longest, 0)
        spans.append((first, max(start, 0)))
        seen.append(unmasked.between(start, at + 1))
        past.append(sums.between(first, start))
    all_seen, all_past = stack(seen), stack(past)
    own = own_past(all_past, network.shares, sigma2=sigma2, tau2=tau2)
    change = contrast(all_seen, own, network.shares, sigma2=sigma2)
    known = enough(
        change,
        visits=policy.window_visits,
        past=all_past,
        past_visits=policy.past_visits,
        past_months=policy.past_months,
    )
    # A window longer than the history has no past to stand against.
    return change, all_past, spans, known & np.isfinite(tau2)


def _wander(network: Network, change: Contrast, known: Flags, wander: Wander) -> Floats:
    usable = known & _countable(change)
    told = usable.sum(axis=-1) >= network.policy.least_subjects
    if not network.policy.wander:
        return wander.learn(np.zeros(told.shape), told)[..., None]
    rare = _too_rare(network, known, told[..., None])
    learnt = wander.learn(_additive(change, usable), told)[..., None]
    return np.where(np.isnan(learnt) & rare, network.policy.rare_share_variance, learnt)


def _countable(one: Contrast) -> Flags:
    """Shares of which less than one event or its absence is expected tell nothing of spread."""
    with np.errstate(invalid="ignore", divide="ignore"):
        return ~one.share | (one.variance - one.doubt <= 1.0)


def _additive(one: Contrast, usable: Flags) -> Floats:
    differences = np.where(usable, one.difference, np.nan)
    return additive_variance(differences, np.where(usable, one.variance, np.nan))


def _without_colleagues(network: Network, one: Contrast, added: Floats) -> Contrast:
    if not network.policy.take_off_colleagues:
        return one
    by, doubt = joint_move(
        one.difference,
        one.variance + added,
        network.membership,
        from_distance=network.policy.colleagues_from,
    )
    return moved(one, by, doubt)


def _z(network: Network, one: Contrast, added: Floats, known: Flags) -> Floats:
    known = known & np.isfinite(added)
    z = distances(one, added, approximation_until=network.policy.approximation_until)
    return np.where(known & np.isfinite(z), z, np.nan)
