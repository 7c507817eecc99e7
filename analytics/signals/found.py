"""What an evaluation found, in the shape of a signal: one a subject, measure and episode."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final
from uuid import UUID

from analytics.detection.evaluation import PLEASE_REVIEW, Episode

# An episode closes after so many builds within; the last month beyond lies before them.
CLOSE_BUILDS: Final = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """An episode of one subject and measure; ``closed`` is None while it goes on.

    ``evidence`` holds plain figures; it is frozen in the signal when that opens.
    """

    clinic_id: int
    subject_kind: str
    subject_id: UUID
    measure: str
    channel: str
    tier: str
    direction: str
    opened: date
    closed: date | None
    since: date
    last_beyond: date
    distance: float | None
    part: str = ""
    evidence: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Cluster:
    """Episodes of one subject and measure that overlap: one thing seen by several tests.

    ``told_by`` is the one whose figures are shown: the first to ask for a review, else the first.
    """

    episodes: tuple[Episode, ...]
    told_by: Episode
    opened: date
    closed: date | None


def clusters(episodes: Iterable[Episode]) -> list[Cluster]:
    """Overlapping episodes of the same subject and measure put together, in order of opening."""
    by_test: dict[tuple[str, str], list[Episode]] = {}
    for one in episodes:
        by_test.setdefault((str(one.subject), one.measure), []).append(one)
    found: list[Cluster] = []
    for _, group in sorted(by_test.items()):
        found += [_cluster(part) for part in _overlapping(sorted(group, key=_order))]
    return sorted(found, key=lambda one: (one.opened, str(one.told_by.subject)))


def _order(one: Episode) -> tuple[date, str, str]:
    return (one.opened, one.tier, one.channel)


def _overlapping(ordered: Sequence[Episode]) -> list[list[Episode]]:
    parts: list[list[Episode]] = []
    until: date | None = None
    for one in ordered:
        if parts and (until is None or one.opened <= until):
            parts[-1].append(one)
            until = None if until is None or one.closed is None else max(until, one.closed)
        else:
            parts.append([one])
            until = one.closed
    return parts


def _cluster(part: list[Episode]) -> Cluster:
    review = [one for one in part if one.tier == PLEASE_REVIEW]
    told_by = min(review or part, key=lambda one: (one.opened, -abs(one.z)))
    still_open = any(one.closed is None for one in part)
    return Cluster(
        episodes=tuple(part),
        told_by=told_by,
        opened=min(one.opened for one in part),
        closed=None if still_open else max(one.closed for one in part if one.closed),
    )
