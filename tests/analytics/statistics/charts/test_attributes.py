"""Charts of shares and counts: floors, gaps, Laney's widening, and what has no limits."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.statistics.charts.attributes import (
    c_chart,
    laney_p_chart,
    laney_u_chart,
    p_chart,
    u_chart,
)
from analytics.statistics.charts.chart import NO_VARIATION, TOO_FEW_POINTS


def test_limits_of_shares_stay_from_zero_to_one():
    chart = p_chart([1, 9, 5], [10, 10, 10])
    few = p_chart([9, 10], [10, 10])

    assert few.upper[0] == 1.0
    assert p_chart([0, 1], [10, 10]).lower[0] == 0.0
    assert chart.upper[0] == pytest.approx(0.5 + 3 * np.sqrt(0.025))


def test_every_chart_names_itself():
    charts = (
        p_chart([1], [9]),
        c_chart([1]),
        u_chart([1], [9]),
        laney_p_chart([1], [9]),
        laney_u_chart([1], [9]),
    )

    assert [chart.kind for chart in charts] == ["p", "c", "u", "p'", "u'"]


def test_limits_of_counts_stop_at_zero_only():
    chart = u_chart([2, 3, 1], [1, 1, 1])

    assert chart.lower[0] == 0.0
    assert chart.upper[0] == pytest.approx(2 + 3 * 2**0.5)


def test_each_size_has_its_own_limits_and_a_frozen_baseline_its_own_mean():
    chart = p_chart([5, 10, 40], [50, 100, 100], baseline=2)

    assert chart.centre == pytest.approx([0.1, 0.1, 0.1])
    assert chart.upper == pytest.approx(0.1 + 3 * np.sqrt(0.09 / np.array([50, 100, 100])))
    assert list(chart.signals["WE1"]) == [2]


def test_laneys_sigma_z_is_about_one_where_chance_alone_is_at_work():
    rng = np.random.default_rng(51)
    n = rng.integers(300, 900, 1500)

    shares = laney_p_chart(rng.binomial(n, 0.12), n)
    counts = laney_u_chart(rng.poisson(0.4 * n), n)

    assert shares.estimates["sigma_z"] == pytest.approx(1.0, abs=0.06)
    assert counts.estimates["sigma_z"] == pytest.approx(1.0, abs=0.06)
    assert shares.upper == pytest.approx(
        shares.centre
        + 3 * shares.estimates["sigma_z"] * np.sqrt(shares.centre * (1 - shares.centre) / n)
    )


def test_laneys_ranges_are_those_of_neighbours_within_the_baseline():
    r, n = np.array([4, 6, 5, 9, 30, 5]), np.full(6, 50)

    chart = laney_p_chart(r, n, baseline=5, exclude=[2])

    p = (4 + 6 + 9 + 30) / 200
    z = (r / 50 - p) / np.sqrt(p * (1 - p) / 50)
    assert chart.estimates["sigma_z"] == pytest.approx(
        np.mean([abs(z[1] - z[0]), abs(z[4] - z[3])]) / 1.128
    )
    assert chart.constants == {"width": 3.0, "d2": 1.128}


def test_a_point_without_trials_is_missing():
    chart = p_chart([2, 0, 3], [20, 0, 20])

    assert list(np.isnan(chart.points)) == list(np.isnan(chart.upper)) == [False, True, False]
    assert chart.baseline_points == 2
    assert chart.centre[0] == pytest.approx(5 / 40)


@pytest.mark.parametrize(
    ("chart", "reason"),
    [
        (p_chart([], []), TOO_FEW_POINTS),
        (p_chart([0], [0]), TOO_FEW_POINTS),
        (p_chart([0, 0], [9, 9]), NO_VARIATION),
        (p_chart([9, 9], [9, 9]), NO_VARIATION),
        (c_chart([0, 0]), NO_VARIATION),
        (c_chart([np.nan]), TOO_FEW_POINTS),
        (u_chart([0], [4.0]), NO_VARIATION),
        (laney_p_chart([], []), TOO_FEW_POINTS),
        (laney_p_chart([3], [9]), TOO_FEW_POINTS),
        (laney_p_chart([0, 0], [9, 9]), NO_VARIATION),
        (laney_p_chart([3, 3], [9, 9]), NO_VARIATION),
        (laney_u_chart([3], [9]), TOO_FEW_POINTS),
    ],
)
def test_what_has_no_limits_says_why(chart, reason):
    assert chart.reason == reason
    assert np.isnan(chart.upper).all()
    assert np.isnan(chart.centre).all()
    assert not any(len(places) for places in chart.signals.values())


def test_misuse_is_refused_with_its_value():
    with pytest.raises(ValueError, match="6 of 5"):
        p_chart([6], [5])
    with pytest.raises(ValueError, match="-1"):
        c_chart([3, -1])
    with pytest.raises(ValueError, match="-2"):
        u_chart([3], [-2])
    with pytest.raises(ValueError, match=r"\(2,\)"):
        laney_u_chart([3, 4], [5])
