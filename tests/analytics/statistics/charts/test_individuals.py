"""Charts of single values and moving ranges: baselines, gaps, screening, and what has no limits."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from analytics.statistics.charts.baseline import Standing
from analytics.statistics.charts.chart import NO_VARIATION, TOO_FEW_POINTS
from analytics.statistics.charts.individuals import (
    FEW_DISTINCT_RANGES,
    individuals_charts,
    moving_ranges,
)
from analytics.statistics.charts.run_rules import NELSON, WESTERN_ELECTRIC

VALUES = np.random.default_rng(21).normal(44.0, 0.2, 40)


def test_limits_are_those_of_plain_arithmetic():
    charts = individuals_charts(VALUES, baseline=25)

    first = VALUES[:25]
    mean_range = sum(abs(b - a) for a, b in pairwise(first)) / 24
    assert charts.values.upper == pytest.approx(np.full(40, first.mean() + 3 * mean_range / 1.128))
    assert charts.values.lower == pytest.approx(np.full(40, first.mean() - 3 * mean_range / 1.128))
    assert charts.moving_ranges.upper == pytest.approx(np.full(40, 3.267 * mean_range))
    assert charts.moving_ranges.lower == pytest.approx(np.zeros(40))


def test_what_happens_after_a_frozen_baseline_does_not_move_its_limits():
    shifted = np.concatenate([VALUES[:25], VALUES[25:] + 5])

    before, after = (individuals_charts(v, baseline=25).values for v in (VALUES, shifted))

    assert after.upper[0] == before.upper[0]
    assert list(after.signals["WE1"]) == list(range(25, 40))


def test_the_footer_has_the_constants_the_rules_and_the_standing():
    charts = individuals_charts(VALUES, baseline=slice(5, 20), rule_set=NELSON)

    assert charts.values.constants == {"width": 3.0, "d2": 1.128}
    assert charts.moving_ranges.constants == {"width": 3.0, "D4": 3.267}
    assert charts.values.rule_set.name == "Nelson"
    assert (charts.values.baseline_points, charts.moving_ranges.baseline_points) == (15, 15)
    assert charts.values.standing is charts.moving_ranges.standing is Standing.SETTLING


def test_an_excluded_point_stays_on_the_chart_and_out_of_its_limits():
    spoiled = VALUES.copy()
    spoiled[10] += 50

    charts = individuals_charts(spoiled, exclude=[10])

    kept = np.delete(VALUES, 10)
    ranges = np.delete(np.abs(np.diff(VALUES)), [9, 10])
    assert charts.values.centre[0] == pytest.approx(kept.mean())
    assert charts.values.estimates["mean_moving_range"] == pytest.approx(ranges.mean())
    assert 10 in charts.values.signals["WE1"]
    assert list(charts.moving_ranges.signals["beyond"]) == [10, 11]


def test_beside_a_missing_value_there_is_no_moving_range():
    found = moving_ranges([1.0, 4.0, np.nan, 5.0, 5.5])

    assert found == pytest.approx([np.nan, 3.0, np.nan, np.nan, 0.5], nan_ok=True)


def test_screening_leaves_far_ranges_out_once():
    # Moving ranges of 1, one of 4 and one of 8: 3.267 times their mean is 5.99.
    spoiled = np.cumsum([0.0] + [1.0, -1.0] * 5 + [4.0, 8.0])

    plain, screened = (
        individuals_charts(spoiled, screen=screen).values for screen in (False, True)
    )

    assert screened.estimates["screened_out"] == 1
    assert screened.estimates["mean_moving_range"] == pytest.approx(14 / 11)
    assert (plain.estimates["screened_out"], plain.estimates["mean_moving_range"]) == (
        0,
        pytest.approx(22 / 12),
    )
    assert screened.upper[0] < plain.upper[0]


def test_readings_rounded_until_few_ranges_differ_carry_a_note():
    coarse = individuals_charts(np.round(44 + 3 * (VALUES - 44)))
    fine = individuals_charts(np.round(VALUES, 1))

    assert coarse.values.notes == coarse.moving_ranges.notes == (FEW_DISTINCT_RANGES,)
    assert fine.values.notes == ()


@pytest.mark.parametrize(
    ("values", "baseline", "reason"),
    [
        ([], None, TOO_FEW_POINTS),
        ([3.0], None, TOO_FEW_POINTS),
        ([np.nan, np.nan], None, TOO_FEW_POINTS),
        ([1.0, np.nan, 2.0], None, TOO_FEW_POINTS),
        ([1.0, 2.0, 3.0], 0, TOO_FEW_POINTS),
        ([3.0, 3.0, 3.0, 9.0], 3, NO_VARIATION),
        ([3.0] * 25, None, NO_VARIATION),
    ],
)
def test_what_has_no_limits_says_why_and_signals_nothing(values, baseline, reason):
    charts = individuals_charts(values, baseline=baseline)

    for chart in (charts.values, charts.moving_ranges):
        assert chart.reason == reason
        assert np.isnan([chart.centre, chart.lower, chart.upper, chart.sigma]).all()
        assert not any(len(places) for places in chart.signals.values())
        assert chart.may_alert is False


def test_signals_come_by_the_code_of_their_rule():
    assert list(individuals_charts(VALUES).values.signals) == [
        rule.code for rule in WESTERN_ELECTRIC.rules
    ]
