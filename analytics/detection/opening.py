"""A test that went beyond its limit becomes an episode, with the evidence at its opening."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from analytics.detection.book import CHANNELS, TIERS, Book, Entry
from analytics.detection.evaluation import Episode
from analytics.detection.network import Network
from analytics.detection.reading import Reading
from analytics.detection.snapshot import Snapshot

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

LOOK, REVIEW = 0, 1
CHANGED, DIFFERS = 0, 1


def beyond(network: Network, reading: Reading, q: Floats) -> Flags:
    """(tiers, channels, measures, testers): which tests are beyond the limit of which tier."""
    with np.errstate(invalid="ignore"):
        look = reading.size > network.policy.look_beyond
        review = look & (reading.size > network.caps) & (q <= network.policy.discovery_rate)
        if not network.policy.caps:
            review = q <= network.policy.discovery_rate
    if network.small:
        # The middle and the spread of so few are themselves too uncertain.
        review[DIFFERS] = False
    return np.stack([look, review])


def open_new(book: Book, shot: Snapshot, reading: Reading, q: Floats) -> None:
    """Open an episode for every test beyond a limit that has none of that tier."""
    new = beyond(book.network, reading, q) & ~book.open
    for tier, channel, measure, tester in np.argwhere(new).tolist():
        book.add(_entry(book.network, shot, reading, q, (tier, channel, measure, tester)))


@dataclass(frozen=True, slots=True)
class _Figures:
    visits: float
    past_visits: float
    value: float
    expected: float
    standard_error: float
    low: float
    high: float


def _entry(
    network: Network, shot: Snapshot, reading: Reading, q: Floats, place: tuple[int, int, int, int]
) -> Entry:
    tier, channel, measure, tester = place
    window = int(reading.window[place[1:]])
    if channel == CHANGED:
        months, past = network.policy.windows[window], shot.spans[window]
    else:
        months, past = min(network.policy.level_months, shot.at + 1), (0, 0)
    since = shot.at + 1 - months
    episode = _episode(network, shot, reading, q, place, months, past)
    return Entry(tier, channel, measure, tester, window, past, since, episode)


def _episode(
    network: Network,
    shot: Snapshot,
    reading: Reading,
    q: Floats,
    place: tuple[int, int, int, int],
    months: int,
    past: tuple[int, int],
) -> Episode:
    tier, channel, measure, tester = place
    names, test = network.tallies, place[1:]
    figures = _figures(network, shot, place, int(reading.window[test]))
    z, tested_q = float(reading.z[test]), float(q[test])
    return Episode(
        subject=names.testers[tester],
        measure=names.measures[measure],
        channel=CHANNELS[channel],
        tier=TIERS[tier],
        opened=names.months[shot.at],
        closed=None,
        direction="higher" if z > 0 else "lower",
        window=months,
        since=names.months[shot.at + 1 - months],
        past_from=names.months[past[0]] if channel == CHANGED else None,
        past_until=names.months[past[1]] if channel == CHANGED else None,
        visits=round(figures.visits),
        past_visits=round(figures.past_visits),
        value=figures.value,
        expected=figures.expected,
        difference=figures.value - figures.expected,
        standard_error=figures.standard_error,
        low=figures.low,
        high=figures.high,
        z=z,
        p=float(reading.p[test]),
        q=tested_q if np.isfinite(tested_q) else None,
    )


def _figures(
    network: Network, shot: Snapshot, place: tuple[int, int, int, int], window: int
) -> _Figures:
    tier, channel, measure, tester = place
    at: tuple[int, ...]
    if channel == CHANGED:
        one, at = shot.change, (window, measure, tester)
        added, past_visits = shot.omega2[window, measure, 0], float(shot.past.n[at])
    else:
        one, at = shot.level, (measure, tester)
        added, past_visits = shot.tau2[measure, 0], 0.0
    limit = (
        float(network.caps[channel, measure, 0]) if tier == REVIEW else network.policy.look_beyond
    )
    if channel == CHANGED:
        limit += network.policy.window_added[window]
    error = float(np.sqrt(one.variance[at] + added))
    middle, n = float(one.expected[at]), float(one.seen.n[at])
    low, high = middle - limit * error, middle + limit * error
    if network.shares[measure, 0]:
        share = float(expit(middle))
        low, high, middle = float(expit(low)), float(expit(high)), share
        error *= share * (1.0 - share)
    value = float(one.seen.observed[at]) / n
    return _Figures(n, past_visits, value, middle, error, low, high)
