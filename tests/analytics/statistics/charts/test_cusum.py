"""The tabular CUSUM against a plain loop, its run lengths, gaps, and what has no limits."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.statistics.charts.baseline import Standing
from analytics.statistics.charts.chart import NO_VARIATION, TOO_FEW_POINTS
from analytics.statistics.charts.cusum import cusum_chart


def test_the_sums_are_those_of_a_plain_loop():
    values = np.random.default_rng(71).normal(0.1, 1.0, 300)

    chart = cusum_chart(values, target=0.0, sigma=1.0, k=0.4, h=4.0)

    high = low = 0.0
    for place, value in enumerate(values):
        high, low = max(0.0, high + value - 0.4), max(0.0, low - value - 0.4)
        assert chart.high[place] == pytest.approx(high, abs=1e-9)
        assert chart.low[place] == pytest.approx(low, abs=1e-9)
        assert (place in chart.signals["above"]) == (high > 4)
        assert (place in chart.signals["below"]) == (low > 4)
    assert len(chart.signals["above"]) > 0


@pytest.mark.parametrize(("shift", "length"), [(0.0, 168), (1.0, 8.38), (2.0, 3.34)])
def test_run_lengths_are_those_in_print(shift, length):
    # Montgomery, Introduction to Statistical Quality Control, table 9.3 (k 1/2, h 4; from memory).
    values = np.random.default_rng(72).normal(shift, 1.0, size=(300, 900 if shift == 0 else 60))

    lengths = []
    for row in values:
        found = cusum_chart(row, target=0.0, sigma=1.0, k=0.5, h=4.0).signals
        signals = np.concatenate([found["above"], found["below"], [len(row) - 1]])
        lengths.append(signals.min() + 1)

    assert np.mean(lengths) == pytest.approx(length, rel=0.17 if shift == 0 else 0.07)


def test_at_a_missing_value_the_sums_stand_still():
    chart = cusum_chart([1.0, 2.0, np.nan, 2.0], target=0.0, sigma=1.0, k=0.5)

    assert chart.high == pytest.approx([0.5, 2.0, 2.0, 3.5])
    assert chart.total == pytest.approx([1.0, 3.0, 3.0, 5.0])


def test_target_and_sigma_of_the_baseline_are_taken_unless_given():
    values = [1.0, 3.0, 2.0, 9.0]

    made = cusum_chart(values, baseline=3, k=0.5, h=4.0)
    given = cusum_chart(values, target=2.0, sigma=1.5 / 1.128, k=0.5, h=4.0)

    assert made.high == pytest.approx(given.high)
    assert made.threshold == pytest.approx(4 * 1.5 / 1.128)
    assert made.estimates == pytest.approx({"target": 2.0, "sigma": 1.5 / 1.128})
    assert made.constants == {"k": 0.5, "h": 4.0}
    assert (made.standing, given.standing) == (Standing.TRIAL, Standing.FIRM)
    assert (made.may_alert, given.may_alert) == (False, True)


def test_a_sum_on_the_threshold_is_not_beyond_it():
    # Thirty steps of a tenth add up to a little more than 3.
    chart = cusum_chart([0.2] * 31, target=0.0, sigma=1.0, k=0.1, h=3.0)

    assert chart.high[29] > 3.0
    assert list(chart.signals["above"]) == [30]


@pytest.mark.parametrize(
    ("values", "reason"),
    [([], TOO_FEW_POINTS), ([4.0], TOO_FEW_POINTS), ([4.0, 4.0], NO_VARIATION)],
)
def test_what_has_no_limits_says_why(values, reason):
    chart = cusum_chart(values)

    assert chart.reason == reason
    assert chart.threshold is None
    assert np.isnan(chart.high).all()
    assert not len(chart.signals["above"])


def test_a_target_alone_makes_no_limits_and_neither_does_a_sigma():
    assert cusum_chart([4.0], target=4.0).reason == TOO_FEW_POINTS
    assert cusum_chart([4.0], sigma=1.0).reason == TOO_FEW_POINTS


@pytest.mark.parametrize("wrong", [{"k": -0.1}, {"h": 0.0}, {"sigma": 0.0}])
def test_misuse_is_refused_with_its_value(wrong):
    with pytest.raises(ValueError, match=str(*wrong.values())):
        cusum_chart([1.0, 2.0], **wrong)
