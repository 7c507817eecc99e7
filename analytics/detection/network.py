"""What stays the same through a replay: the sums, the measures' kinds, who works where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from analytics.detection.centres import month_centres
from analytics.detection.policy import Policy
from analytics.detection.tallies import Tallies

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


class Watched(Protocol):
    """What the engine asks of a measure."""

    @property
    def kind(self) -> str: ...
    @property
    def direction(self) -> str: ...
    @property
    def cap_change(self) -> float: ...
    @property
    def cap_level(self) -> float: ...
    @property
    def minimum_visits(self) -> int: ...


class WatchedMeasures(Protocol):
    """The measures by their id."""

    def __getitem__(self, measure_id: str, /) -> Watched: ...


@dataclass(frozen=True, slots=True)
class Network:
    """Arrays over measures stand as (measures, 1), to meet those of (measures, testers)."""

    tallies: Tallies
    policy: Policy
    small: bool
    shares: Flags  # (measures, 1)
    direction: Floats  # (measures, 1): +1 only higher matters, -1 only lower, 0 both
    minimum: Floats  # (measures, 1)
    caps: Floats  # (2, measures, 1): change, level
    centres: Floats  # (measures, months)
    membership: Floats  # (testers, clinics) of 0 and 1
    sigma2: Floats  # (measures, months): pooled within tester and month, up to that month


def network(tallies: Tallies, measures: WatchedMeasures, policy: Policy) -> Network:
    """:raises KeyError: if a measure of the tallies is not among the measures."""
    watched = [measures[name] for name in tallies.measures]
    shares = np.array([one.kind == "share" for one in watched], dtype=np.bool_)
    small = _is_small(tallies, policy)
    added = policy.cap_added + (policy.small_cap_added if small else 0.0)
    caps = np.array([[m.cap_change for m in watched], [m.cap_level for m in watched]])
    return Network(
        tallies=tallies,
        policy=policy,
        small=small,
        shares=shares[:, None],
        direction=_column([{"higher": 1.0, "lower": -1.0}.get(m.direction, 0.0) for m in watched]),
        minimum=_column([max(m.minimum_visits, policy.level_visits) for m in watched]),
        caps=caps.reshape(2, len(watched), 1) + added,
        centres=month_centres(tallies, shares),
        membership=_membership(tallies),
        sigma2=_pooled_within(tallies),
    )


def _is_small(tallies: Tallies, policy: Policy) -> bool:
    clinics = len(np.unique(tallies.clinics))
    return len(tallies.testers) < policy.few_testers or clinics < policy.few_clinics


def _column(values: Sequence[float]) -> Floats:
    return np.array(values, dtype=np.float64).reshape(-1, 1)


def _membership(tallies: Tallies) -> Floats:
    numbers = np.unique(tallies.clinics)
    member: Floats = (tallies.clinics[:, None] == numbers[None, :]).astype(np.float64)
    return member


def _pooled_within(tallies: Tallies) -> Floats:
    """Variance of one visit's score about its tester's month, over all months up to each."""
    n = tallies.n
    with np.errstate(invalid="ignore", divide="ignore"):
        squares = np.where(n > 0, tallies.ss - tallies.s**2 / n, 0.0)
    # The difference of two large sums may come out a hair under 0.
    squares = np.cumsum(np.maximum(squares, 0.0).sum(axis=1), axis=-1)
    freedom = np.cumsum(np.maximum(n - 1.0, 0.0).sum(axis=1), axis=-1)
    return np.where(freedom > 0, squares / np.maximum(freedom, 1.0), np.nan)
