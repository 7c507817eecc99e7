"""Moving averages: the recursion, its exact limits, gaps, and what has no limits."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.statistics.charts.baseline import Standing
from analytics.statistics.charts.chart import NO_VARIATION, TOO_FEW_POINTS
from analytics.statistics.charts.ewma import ewma, ewma_chart, ewma_sd


def test_a_moving_average_is_its_recursion_and_passes_over_gaps():
    values = [1.0, np.nan, 4.0, 2.0]

    found = ewma(values, weight=0.25, start=0.0)

    # 0.25; then (4 + 3 x 0.25) / 4; then (2 + 3 x 1.1875) / 4.
    assert found == pytest.approx([0.25, np.nan, 1.1875, 1.390625], nan_ok=True)


def test_the_limits_are_those_of_simulated_averages_from_the_first_point_on():
    values = np.random.default_rng(61).normal(0, 2.0, size=(20_000, 6))
    averages, last = [], np.zeros(20_000)
    for column in values.T:
        last = 0.2 * column + 0.8 * last
        averages.append(last)

    found = ewma_sd(values[0], weight=0.2, sigma=2.0)

    assert found == pytest.approx(np.std(averages, axis=1), rel=0.02)


def test_a_gap_does_not_widen_the_limits():
    assert ewma_sd([1.0, np.nan, 1.0], weight=0.2, sigma=1.0) == pytest.approx(
        [0.2, 0.2, 0.2 * (1 + 0.8**2) ** 0.5]
    )


def test_the_exact_limits_grow_into_the_steady_ones():
    chart = ewma_chart(np.zeros(200) + [0.0, 0.1] * 100, weight=0.2, centre=0.0, sigma=1.0)

    # Derived: at the first point the average is a fifth of one value.
    assert chart.upper[0] == pytest.approx(3 * 0.2)
    assert np.all(np.diff(chart.upper) >= 0)
    assert chart.upper[-1] == pytest.approx(chart.estimates["steady_upper"])
    assert chart.estimates["steady_upper"] == pytest.approx(3 * (0.2 / 1.8) ** 0.5)
    assert chart.estimates["steady_lower"] == -chart.estimates["steady_upper"]


def test_a_weight_of_one_is_the_chart_of_the_values_themselves():
    values = [3.0, 5.0, 4.0, 9.0]

    chart = ewma_chart(values, weight=1.0, centre=4.0, sigma=1.0)

    assert chart.points == pytest.approx(values)
    assert chart.upper == pytest.approx(np.full(4, 7.0))
    assert list(chart.signals["beyond"]) == [3]


def test_a_slow_drift_is_seen_before_any_value_is_beyond_its_own_limits():
    rng = np.random.default_rng(68)
    values = np.concatenate([rng.normal(44, 0.1, 30), 44 + rng.normal(0.12, 0.1, 20)])

    chart = ewma_chart(values, weight=0.2, baseline=30)

    alone = (values - chart.estimates["mean"]) / chart.estimates["sigma"]
    assert not np.any(np.abs(alone) > 3)
    assert chart.signals["beyond"].min() >= 30
    assert chart.may_alert


def test_centre_and_sigma_of_the_baseline_are_taken_unless_given():
    values = [1.0, 3.0, 2.0, 4.0]

    made, half, given = (
        ewma_chart(values, baseline=3),
        ewma_chart(values, baseline=3, centre=9.0),
        ewma_chart(values, baseline=3, centre=9.0, sigma=2.0),
    )

    assert made.estimates["mean"] == pytest.approx(2.0)
    assert made.estimates["sigma"] == pytest.approx(1.5 / 1.128)
    assert (half.estimates["mean"], half.estimates["sigma"]) == (9.0, made.estimates["sigma"])
    assert given.estimates["sigma"] == 2.0
    assert [chart.standing for chart in (made, half, given)] == [
        Standing.TRIAL, Standing.TRIAL, Standing.FIRM,
    ]  # fmt: skip


def test_the_width_is_that_of_limits_and_rule_alike():
    chart = ewma_chart([0.0, 0.0, 9.0], weight=1.0, centre=0.0, sigma=1.0, width=10.0)

    assert chart.upper[0] == 10.0
    assert chart.constants == {"width": 10.0, "weight": 1.0}
    assert not len(chart.signals["beyond"])


@pytest.mark.parametrize(
    ("values", "reason"),
    [([], TOO_FEW_POINTS), ([4.0], TOO_FEW_POINTS), ([4.0, 4.0], NO_VARIATION)],
)
def test_what_has_no_limits_says_why(values, reason):
    chart = ewma_chart(values)

    assert chart.reason == reason
    assert np.isnan(chart.upper).all()


def test_a_centre_alone_makes_no_limits_and_neither_does_a_sigma():
    assert ewma_chart([4.0], centre=4.0).reason == TOO_FEW_POINTS
    assert ewma_chart([4.0], sigma=1.0).reason == TOO_FEW_POINTS


def test_misuse_is_refused_with_its_value():
    with pytest.raises(ValueError, match=r"1\.5"):
        ewma([1.0], weight=1.5, start=0.0)
    with pytest.raises(ValueError, match="0"):
        ewma_chart([1.0, 2.0], sigma=0.0)
