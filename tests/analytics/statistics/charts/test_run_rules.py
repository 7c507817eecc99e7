"""Each pattern against a slow second reading of its words, and at its edges."""

from __future__ import annotations

from itertools import pairwise
from math import comb

import numpy as np
import pytest

from analytics.statistics.charts.patterns import alternating, trend
from analytics.statistics.charts.run_rules import (
    ISO_7870_2,
    NELSON,
    RULE_SETS,
    WESTERN_ELECTRIC,
    one_point_beyond,
    runs_test,
)


def same_side(last, width):
    return all(z > width for z in last) or all(z < -width for z in last)


def some_on_one_side(last, count, width):
    above, below = [z > width for z in last], [z < -width for z in last]
    return (sum(above) >= count and above[-1]) or (sum(below) >= count and below[-1])


def steps(last):
    return [after - before for before, after in pairwise(last)]


# Rule by rule: how many points it looks back on, and its words said of those points.
IN_WORDS = {
    "WE1": (1, lambda last: abs(last[0]) > 3),
    "WE2": (3, lambda last: some_on_one_side(last, 2, 2)),
    "WE3": (5, lambda last: some_on_one_side(last, 4, 1)),
    "WE4": (8, lambda last: same_side(last, 0)),
    "N1": (1, lambda last: abs(last[0]) > 3),
    "N2": (9, lambda last: same_side(last, 0)),
    "N3": (6, lambda last: same_side(steps(last), 0)),
    "N4": (14, lambda last: all(a * b < 0 for a, b in pairwise(steps(last)))),
    "N5": (3, lambda last: some_on_one_side(last, 2, 2)),
    "N6": (5, lambda last: some_on_one_side(last, 4, 1)),
    "N7": (15, lambda last: all(abs(z) <= 1 for z in last)),
    "N8": (8, lambda last: all(abs(z) > 1 for z in last) and min(last) < 0 < max(last)),
    "ISO1": (1, lambda last: abs(last[0]) > 3),
    "ISO2": (7, lambda last: same_side(last, 0)),
    "ISO3": (7, lambda last: same_side(steps(last), 0)),
}  # fmt: skip
RULES = {rule.code: rule for rules in RULE_SETS.values() for rule in rules.rules}


def lively(seed: int) -> np.ndarray:
    """Points with shifts, drifts, quiet and wild stretches, so that every rule has its turn."""
    rng = np.random.default_rng(seed)
    quiet = rng.uniform(-0.9, 0.9, 60)
    wild = rng.choice([-1, 1], 60) * rng.uniform(1.05, 2.5, 60)
    drift = np.linspace(-2, 2, 25) + rng.normal(0, 0.05, 25)
    zigzag = np.resize([0.5, -0.5], 40) + rng.normal(0, 0.3, 40)
    return np.concatenate([rng.normal(0.5, 1.2, 120), quiet, wild, drift, zigzag, [np.nan], quiet])


@pytest.mark.parametrize("code", IN_WORDS)
def test_a_rule_completes_where_its_words_say(code):
    back, words = IN_WORDS[code]
    z = lively(17)

    expected = [
        place
        for place in range(back - 1, len(z))
        if not np.isnan(z[place - back + 1 : place + 1]).any()
        and words(list(z[place - back + 1 : place + 1]))
    ]

    assert list(np.flatnonzero(RULES[code].completes(z))) == expected
    assert expected


def test_every_rule_is_put_into_words_and_tried():
    assert set(IN_WORDS) == set(RULES)
    assert all(rules.source and rules.name == name for name, rules in RULE_SETS.items())
    assert all(rule.words for rule in RULES.values())
    assert [len(rules.rules) for rules in (WESTERN_ELECTRIC, NELSON, ISO_7870_2)] == [4, 8, 3]


def test_many_charts_are_read_at_once():
    charts = np.random.default_rng(18).normal(0, 1.3, size=(6, 40))

    together = NELSON.flags(charts)

    assert together.any()
    for row, chart in zip(together, charts, strict=True):
        places = {int(place) for found in NELSON.places(chart).values() for place in found}
        assert set(np.flatnonzero(row)) == places


@pytest.mark.parametrize("points", [[], [0.5], [0.5, 5.0]])
def test_few_points_complete_nothing_but_the_first_rule(points):
    for rules in RULE_SETS.values():
        first, *others = rules.places(points).values()
        assert list(first) == [place for place, z in enumerate(points) if z > 3]
        assert not any(len(found) for found in others)


@pytest.mark.parametrize("code", IN_WORDS)
def test_a_missing_point_breaks_every_pattern(code):
    z = np.full(40, np.nan)

    assert not RULES[code].completes(z).any()


def test_a_point_on_a_line_is_not_beyond_it_though_rounding_put_it_there():
    on_the_line = (0.1 + 0.2) * 10

    assert on_the_line > 3
    assert not one_point_beyond().flags([on_the_line]).any()
    assert one_point_beyond().flags([3.001]).any()
    assert not one_point_beyond(3.5).flags([3.001]).any()
    assert not WESTERN_ELECTRIC.flags(np.full(8, 1e-17)).any()


def test_equal_neighbours_neither_rise_nor_turn():
    assert not trend([1, 2, 3, 3, 4, 5], 6).any()
    zigzag = [0.0, 1.0] * 7

    assert alternating(zigzag, 14)[-1]
    assert not alternating([*zigzag[:6], zigzag[5], *zigzag[7:]], 14).any()


def test_a_run_of_nine_in_twenty_four_is_long():
    values = [1.0] * 9 + [-1.0, 1.0] * 7 + [-1.0]

    found = runs_test(values, centre=0.0)

    assert (found.useful, found.longest, found.longest_limit, found.long_run) == (24, 9, 8, True)
    assert runs_test([*values[1:], 1.0], centre=0.0).long_run is False


def test_seven_crossings_in_twenty_four_points_are_few_and_eight_are_not():
    seven = np.repeat([1.0, -1.0] * 4, 3)
    eight = np.concatenate([seven[:-1], [1.0]])

    assert runs_test(seven, centre=0.0).crossings == 7
    assert runs_test(seven, centre=0.0).few_crossings is True
    assert runs_test(eight, centre=0.0).crossings == 8
    assert runs_test(eight, centre=0.0).few_crossings is False


def test_the_fewest_crossings_are_those_a_twentieth_of_charts_do_not_reach():
    # Derived: counted out over n - 1 tosses of a coin.
    for n in range(10, 61):
        found = runs_test(np.resize([1.0, -1.0], n), centre=0.0).crossings_limit

        fewer = sum(comb(n - 1, crossings) for crossings in range(found)) / 2 ** (n - 1)
        assert fewer < 0.05 <= fewer + comb(n - 1, found) / 2 ** (n - 1)


def test_points_on_the_centre_and_missing_ones_are_no_use_to_runs():
    found = runs_test([1.0, 0.0, np.nan, 1.0, -1.0], centre=0.0)

    assert (found.useful, found.longest, found.crossings) == (3, 2, 1)
    assert (found.longest_limit, found.long_run, found.few_crossings) == (None, None, None)


@pytest.mark.parametrize("values", [[], [np.nan], [2.0, 2.0]])
def test_no_useful_point_makes_no_run(values):
    found = runs_test(values, centre=2.0)

    assert (found.useful, found.longest, found.crossings) == (0, 0, 0)
