"""The engine: month-end builds replayed from the first to the last, the same each time."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from analytics.detection.book import CHANNELS, TIERS, Book, Entry
from analytics.detection.evaluation import Build, Episode, Evaluation, Parameters
from analytics.detection.network import Network, WatchedMeasures, network
from analytics.detection.opening import REVIEW, open_new
from analytics.detection.policy import DEFAULT, Policy
from analytics.detection.reading import discoveries, read
from analytics.detection.snapshot import Snapshot, Wander, snapshot
from analytics.detection.sums import cumulate
from analytics.detection.table import nothing, table
from analytics.detection.tallies import Tallies


def evaluate(
    tallies: Tallies,
    catalogue: WatchedMeasures,
    *,
    open_before: Sequence[Episode] = (),
    first_build: date | None = None,
    policy: Policy = DEFAULT,
) -> Evaluation:
    """Replay the month-end builds over the tallies.

    Parameters
    ----------
    tallies : Tallies
        Complete months only. Use :func:`by_clinic` and ``FOR_CLINICS`` for clinics.
    catalogue : Catalogue
        The measures by id.
    open_before : sequence of Episode
        Open before the first build that may open any; each goes on with its own frozen past.
        Those of subjects, measures or months not in the tallies are left out.
    first_build : date, optional
        Builds of earlier months only learn parameters, and open nothing.

    Returns
    -------
    Evaluation
        Ordinary gaps (no visits, few testers, equal scores) give no test and a reason.

    Raises
    ------
    KeyError
        If the catalogue does not know a measure of the tallies.

    Notes
    -----
    Tried by simulation; recipe and figures are in docs/detection-study.md.
    """
    watched = network(tallies, catalogue, policy)
    book = _book(watched, open_before)
    wander = Wander(*(np.zeros((len(policy.windows), len(tallies.measures))) for _ in range(2)))
    unmasked = cumulate(tallies, watched.centres)
    builds, shot = [], None
    for at, month in enumerate(tallies.months if tallies.testers else ()):
        sums = unmasked
        if not book.past_used.all():
            sums = cumulate(tallies, watched.centres, book.past_used)
        shot = snapshot(watched, sums, unmasked, at, wander)
        reading = read(watched, shot)
        if first_build is None or month >= first_build:
            book.look_again(shot, sums, unmasked)
            q = discoveries(watched, reading, book.open[REVIEW])
            open_new(book, shot, reading, q)
        builds.append(_build(watched, shot, int(np.isfinite(reading.p).sum())))
    return Evaluation(
        measures=tallies.measures,
        months=tallies.months,
        testers=tallies.testers,
        windows=policy.windows,
        small_network=watched.small,
        builds=tuple(builds),
        episodes=_in_order([*book.closed, *(entry.episode for entry in book.entries)]),
        table=table(watched, shot) if shot else nothing(watched),
    )


def _book(watched: Network, open_before: Sequence[Episode]) -> Book:
    tallies = watched.tallies
    shape = (len(tallies.measures), len(tallies.testers))
    book = Book(
        watched,
        np.zeros((2, 2, *shape), dtype=np.bool_),
        np.ones((*shape, len(tallies.months)), dtype=np.bool_),
    )
    for episode in open_before:
        entry = _entry_of(watched, episode)
        if entry is not None and not book.open[entry.place]:
            book.add(entry)
    return book


def _entry_of(watched: Network, episode: Episode) -> Entry | None:
    """An earlier build's episode as an entry of this replay, if its past is still here."""
    tallies, months = watched.tallies, list(watched.tallies.months)
    known = episode.measure in tallies.measures and episode.subject in tallies.testers
    change = episode.channel == "change"
    if not known or (change and not {episode.past_from, episode.past_until} <= set(months)):
        return None
    if change and episode.window not in watched.policy.windows:
        return None
    past = (0, 0)
    if episode.past_from is not None and episode.past_until is not None:
        past = (months.index(episode.past_from), months.index(episode.past_until))
    return Entry(
        tier=TIERS.index(episode.tier),
        channel=CHANNELS.index(episode.channel),
        measure=tallies.measures.index(episode.measure),
        tester=tallies.testers.index(episode.subject),
        window=watched.policy.windows.index(episode.window) if change else 0,
        past=past,
        since=months.index(episode.since) if episode.since in months else 0,
        episode=episode,
    )


def _build(watched: Network, shot: Snapshot, tests: int) -> Build:
    names = enumerate(watched.tallies.measures)
    parameters = tuple(_parameters(watched, shot, name, place) for place, name in names)
    return Build(month=watched.tallies.months[shot.at], parameters=parameters, tests=tests)


def _parameters(watched: Network, shot: Snapshot, name: str, place: int) -> Parameters:
    seen = shot.level.seen
    months = slice(max(shot.at + 1 - watched.policy.level_months, 0), shot.at + 1)
    weights = watched.tallies.n[place, :, months].sum(axis=0)
    total = weights.sum()
    centre = float(np.nansum(watched.centres[place, months] * weights) / total) if total else None
    share = bool(watched.shares[place, 0])
    return Parameters(
        measure=name,
        sigma2=None if share else _number(shot.sigma2[place, 0]),
        tau2=_number(shot.tau2[place, 0]) if seen.n[place].any() else None,
        omega2={
            window: _number(shot.omega2[i, place, 0])
            for i, window in enumerate(watched.policy.windows)
        },
        centre=centre,
    )


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _in_order(episodes: list[Episode]) -> tuple[Episode, ...]:
    """A total order that does not hang on the order of closing."""

    def key(one: Episode) -> tuple[date, str, str, str, str]:
        return (one.opened, str(one.subject), one.measure, one.channel, one.tier)

    return tuple(sorted(episodes, key=key))
