"""What a replay gives: parameters of each build, episodes, and the table of the last build."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

Channel = Literal["change", "level"]
Tier = Literal["worth_a_look", "please_review"]
CHANGE: Final[Channel] = "change"
LEVEL: Final[Channel] = "level"
WORTH_A_LOOK: Final[Tier] = "worth_a_look"
PLEASE_REVIEW: Final[Tier] = "please_review"


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameters:
    """What the network told at one build about one measure; ``None`` where it could not.

    Shares on the logit scale but for ``centre``, the network's share or mean score over the
    months of the level. ``omega2`` is the wander of each window, averaged over the builds so far.
    """

    measure: str
    sigma2: float | None
    tau2: float | None
    omega2: dict[int, float | None]
    centre: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """One month-end: the month it closed, its parameters, how many tests it made."""

    month: date
    parameters: tuple[Parameters, ...]
    tests: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Episode:
    """A change or a difference from the build that first showed it to the one that no longer did.

    One test (subject, measure, channel) may have an episode of each tier at a time: *please
    review* says more than *worth a look*, and opens later or never. ``value``, ``expected``,
    ``difference`` and the limits are in the measure's unit (a share between 0 and 1), at the
    opening; ``z`` is the distance in standard errors, signed, over the window of ``window``
    months from ``since``; outside ``low`` to ``high`` it would have been beyond the tier's limit.
    The past compared with (``past_from`` to ``past_until``, firsts of the month, the last one not
    in it) is kept as it was while the episode is open; a level has none.
    """

    subject: Hashable
    measure: str
    channel: Channel
    tier: Tier
    opened: date
    closed: date | None
    direction: Literal["higher", "lower"]
    window: int
    since: date
    past_from: date | None
    past_until: date | None
    visits: int
    past_visits: int
    value: float
    expected: float
    difference: float
    standard_error: float
    low: float
    high: float
    z: float
    p: float
    q: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """The last build, (measures, testers); ``(windows, measures, testers)`` where it says so.

    ``n``, ``value`` over the months of the level; ``shrunken`` is drawn towards the network by
    how little is known. ``smallest_*`` is the smallest difference that could have been seen with
    a chance of 80 %, in the measure's unit. NaN where ``reason`` says why: ``""`` (nothing
    missing), ``no_visits``, ``few_visits``, ``few_testers``; for the change ``reason_change``
    adds ``short_past``.
    """

    n: Floats
    value: Floats
    expected: Floats
    shrunken: Floats
    z_level: Floats
    z_change: Floats  # (windows, measures, testers)
    smallest_level: Floats
    smallest_change: Floats  # (windows, measures, testers)
    reason: NDArray[np.str_]
    reason_change: NDArray[np.str_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Evaluation:
    """The whole replay. ``table`` is of the last month; ``small_network`` says caps were raised."""

    measures: tuple[str, ...]
    months: tuple[date, ...]
    testers: tuple[Hashable, ...]
    windows: tuple[int, ...]
    small_network: bool
    builds: tuple[Build, ...]
    episodes: tuple[Episode, ...]
    table: Table
