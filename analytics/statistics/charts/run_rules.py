"""Named sets of run rules, as published, and the test of runs for charts without limits.

A set is used whole and named under the chart; rules are not picked from several.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from analytics.statistics.charts.constants import WIDTH
from analytics.statistics.charts.patterns import (
    alternating,
    beyond,
    both_sides_beyond,
    one_side,
    some_of,
    trend,
    within,
)

Flags = NDArray[np.bool_]
Places = NDArray[np.intp]

FEWEST_FOR_RUNS: Final = 10


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule: its code, its words, and which standardised points complete it."""

    code: str
    words: str
    completes: Callable[[ArrayLike], Flags]


@dataclass(frozen=True, slots=True)
class RuleSet:
    """Rules that belong together, and where they were published."""

    name: str
    source: str
    rules: tuple[Rule, ...]

    def places(self, z: ArrayLike) -> dict[str, Places]:
        """For each rule by code, the places (from 0) of the points that complete it.

        ``z`` are the standardised points of one chart.
        """
        return {rule.code: np.flatnonzero(rule.completes(z)) for rule in self.rules}

    def flags(self, z: ArrayLike) -> Flags:
        """Which points complete any of the rules; ``z`` may hold many charts, one a row."""
        flags = np.zeros(np.shape(z), dtype=np.bool_)
        for rule in self.rules:
            flags |= rule.completes(z)
        return flags


def one_point_beyond(width: float = WIDTH) -> RuleSet:
    """The first rule alone: one point beyond its limits, ``width`` standard deviations away."""
    rule = Rule(
        "beyond", f"one point beyond {width:g} standard deviations", partial(beyond, width=width)
    )
    return RuleSet("one point beyond", "Shewhart 1931", (rule,))


_BEYOND_3: Final = partial(beyond, width=3.0)
_TWO_OF_THREE: Final = partial(some_of, count=2, window=3, width=2.0)
_FOUR_OF_FIVE: Final = partial(some_of, count=4, window=5, width=1.0)

WESTERN_ELECTRIC: Final = RuleSet(
    "Western Electric",
    "Western Electric, Statistical Quality Control Handbook, 1956",
    (
        Rule("WE1", "one point beyond 3 SD", _BEYOND_3),
        Rule("WE2", "two of three points beyond 2 SD on one side", _TWO_OF_THREE),
        Rule("WE3", "four of five points beyond 1 SD on one side", _FOUR_OF_FIVE),
        Rule("WE4", "eight points on one side of the centre", partial(one_side, length=8)),
    ),
)

NELSON: Final = RuleSet(
    "Nelson",
    "Nelson, Journal of Quality Technology 1984;16:237-239",
    (
        Rule("N1", "one point beyond 3 SD", _BEYOND_3),
        Rule("N2", "nine points on one side of the centre", partial(one_side, length=9)),
        Rule("N3", "six points all rising or all falling", partial(trend, length=6)),
        Rule("N4", "fourteen points up and down in turn", partial(alternating, length=14)),
        Rule("N5", "two of three points beyond 2 SD on one side", _TWO_OF_THREE),
        Rule("N6", "four of five points beyond 1 SD on one side", _FOUR_OF_FIVE),
        Rule("N7", "fifteen points within 1 SD", partial(within, length=15, width=1.0)),
        Rule(
            "N8",
            "eight points beyond 1 SD, on both sides",
            partial(both_sides_beyond, length=8, width=1.0),
        ),
    ),
)

# The standard's fourth criterion, any other pattern that is plainly not random, is a person's.
ISO_7870_2: Final = RuleSet(
    "ISO 7870-2",
    "ISO 7870-2, Shewhart control charts (from memory; the standard was not opened)",
    (
        Rule("ISO1", "one point beyond 3 SD", _BEYOND_3),
        Rule("ISO2", "seven points on one side of the centre", partial(one_side, length=7)),
        Rule("ISO3", "seven points all rising or all falling", partial(trend, length=7)),
    ),
)

RULE_SETS: Final = {rules.name: rules for rules in (WESTERN_ELECTRIC, NELSON, ISO_7870_2)}


@dataclass(frozen=True, slots=True)
class RunsTest:
    """Runs and crossings of the centre line, which need no limits.

    ``useful`` points do not lie on the line. The longest run is unusual above ``longest_limit``,
    the crossings below ``crossings_limit``. ``None`` with fewer than ten useful points.
    """

    useful: int
    longest: int
    crossings: int
    longest_limit: int | None
    crossings_limit: int | None
    long_run: bool | None
    few_crossings: bool | None


def runs_test(values: ArrayLike, *, centre: float) -> RunsTest:
    """Longest run and crossings of ``centre``, most often the median of the values.

    Limits: round(log2 n + 3), and the 5 % point of a binomial of n - 1 halves (Anhoej & Olesen,
    PLoS ONE 2014;9:e113825). Missing values are left out.
    """
    side = np.sign(np.asarray(values, dtype=np.float64) - centre)
    side = side[np.isfinite(side) & (side != 0)]
    n = len(side)
    ends = np.flatnonzero(np.diff(side)) + 1
    runs = np.diff(np.concatenate([[0], ends, [n]]))
    longest, crossings = int(runs.max(initial=0)), len(ends)
    if n < FEWEST_FOR_RUNS:
        return RunsTest(n, longest, crossings, None, None, None, None)
    most, fewest = round(float(np.log2(n)) + 3), int(stats.binom.ppf(0.05, n - 1, 0.5))
    return RunsTest(n, longest, crossings, most, fewest, longest > most, crossings < fewest)
