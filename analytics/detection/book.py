"""Which episodes are open, what each is compared with, and when it is over."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.detection.contrasts import contrast, distances, own_past
from analytics.detection.evaluation import CHANGE, PLEASE_REVIEW, Episode
from analytics.detection.network import Network
from analytics.detection.snapshot import Snapshot
from analytics.detection.sums import Cumulated

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]

TIERS: Final = ("worth_a_look", "please_review")
CHANNELS: Final = ("change", "level")


@dataclass(slots=True)
class Entry:
    """One open episode: its test as places, its frozen past, builds in a row it was quiet."""

    tier: int
    channel: int
    measure: int
    tester: int
    window: int  # place in the windows
    past: tuple[int, int]
    since: int
    episode: Episode
    quiet: int = 0

    @property
    def place(self) -> tuple[int, int, int, int]:
        """Where its test stands in the arrays of tiers, channels, measures and testers."""
        return self.tier, self.channel, self.measure, self.tester


@dataclass(slots=True)
class Book:
    """Open and closed episodes of a replay.

    ``open`` is (tiers, channels, measures, testers). ``past_used`` (measures, testers, months) is
    False for months of a closed *please review* change: what was a fault is nobody's usual.
    """

    network: Network
    open: Flags
    past_used: Flags
    entries: list[Entry] = field(default_factory=list)
    closed: list[Episode] = field(default_factory=list)

    def add(self, entry: Entry) -> None:
        self.open[entry.place] = True
        self.entries.append(entry)

    def look_again(self, shot: Snapshot, sums: Cumulated, unmasked: Cumulated) -> None:
        """Close what has been quiet for two builds, or has had no visits through all months."""
        if not self.entries:
            return
        policy = self.network.policy
        recent = unmasked.between(shot.at + 1 - policy.level_months, shot.at + 1).n
        still = []
        for entry, z in zip(self.entries, self._distances(shot, sums, unmasked), strict=True):
            if np.isfinite(z):
                entry.quiet = entry.quiet + 1 if abs(z) < policy.close_under else 0
            gone = recent[entry.measure, entry.tester] == 0
            if gone or entry.quiet >= policy.close_builds:
                self._close(entry, shot.at)
            else:
                still.append(entry)
        self.entries = still

    def _close(self, entry: Entry, at: int) -> None:
        self.open[entry.place] = False
        self.closed.append(replace(entry.episode, closed=self.network.tallies.months[at]))
        if entry.episode.tier == PLEASE_REVIEW and entry.episode.channel == CHANGE:
            self.past_used[entry.measure, entry.tester, entry.since : at + 1] = False

    def _distances(self, shot: Snapshot, sums: Cumulated, unmasked: Cumulated) -> Floats:
        """z of each open episode today: a change against its frozen past, a level as it is."""
        z = np.array([shot.level_z[entry.measure, entry.tester] for entry in self.entries])
        changes = [i for i, entry in enumerate(self.entries) if CHANNELS[entry.channel] == CHANGE]
        if changes:
            z[changes] = self._frozen([self.entries[i] for i in changes], shot, sums, unmasked)
        return z

    def _frozen(
        self, entries: list[Entry], shot: Snapshot, sums: Cumulated, unmasked: Cumulated
    ) -> Floats:
        columns = np.array(
            [(e.measure, e.tester, e.window, *e.past) for e in entries], dtype=np.int64
        ).T
        measure, tester, window, start, end = columns
        months = np.array(self.network.policy.windows)[window]
        past = sums.of(measure, tester, start, end)
        seen = unmasked.of(measure, tester, shot.at + 1 - months, np.full_like(start, shot.at + 1))
        share, sigma2 = self.network.shares[measure, 0], shot.sigma2[measure, 0]
        own = own_past(past, share, sigma2=sigma2, tau2=shot.tau2[measure, 0])
        added = shot.omega2[window, measure, 0]
        return distances(
            contrast(seen, own, share, sigma2=sigma2),
            added,
            approximation_until=self.network.policy.approximation_until,
        )
