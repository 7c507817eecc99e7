"""Charts of subgroup means and SDs, of one size and of several."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.statistics.charts.chart import NO_VARIATION, TOO_FEW_POINTS
from analytics.statistics.charts.constants import a3, b3, b4, c4
from analytics.statistics.charts.subgroups import sigma_of_sds, subgroup_charts


def summaries(rng, sizes, sd=2.0):
    groups = [rng.normal(30, sd, size) for size in sizes]
    return [g.mean() for g in groups], [g.std(ddof=1) for g in groups]


def test_one_size_gives_the_textbooks_limits():
    means, sds = summaries(np.random.default_rng(41), [8] * 30)

    charts = subgroup_charts(means, sds, [8] * 30)

    centre, mean_sd = np.mean(means), np.mean(sds)
    assert charts.means.upper[0] == pytest.approx(centre + a3(8) * mean_sd)
    assert charts.means.lower[0] == pytest.approx(centre - a3(8) * mean_sd)
    assert charts.sds.centre[0] == pytest.approx(mean_sd)
    assert charts.sds.lower[0] == pytest.approx(b3(8) * mean_sd)
    assert charts.sds.upper[0] == pytest.approx(b4(8) * mean_sd)
    assert charts.sds.constants["B4"] == pytest.approx(float(b4(8)))
    assert charts.means.constants["A3"] == pytest.approx(float(a3(8)))


def test_several_sizes_give_each_subgroup_its_own_limits_and_an_unbiased_sigma():
    rng = np.random.default_rng(42)
    sizes = rng.integers(2, 20, 3000)

    charts = subgroup_charts(*summaries(rng, sizes), sizes)

    sigma = charts.means.estimates["sigma"]
    assert sigma == pytest.approx(2.0, abs=0.03)
    assert charts.means.upper - charts.means.centre == pytest.approx(3 * sigma / np.sqrt(sizes))
    assert charts.sds.centre == pytest.approx(c4(sizes) * sigma)
    assert "A3" not in charts.means.constants


def test_the_centre_of_the_means_is_the_mean_of_all_values():
    charts = subgroup_charts([1.0, 4.0], [0.5, 0.5], [2, 6])

    assert charts.means.centre[0] == pytest.approx((2 * 1.0 + 6 * 4.0) / 8)


def test_the_weights_are_those_of_least_variance():
    # Derived: the variance of s / c4 is proportional to (1 - c4^2) / c4^2.
    rng = np.random.default_rng(43)
    sds = np.stack([rng.normal(size=(4000, size)).std(axis=1, ddof=1) for size in (2, 20)], axis=1)

    pooled = [sigma_of_sds(row, [2, 20]) for row in sds]
    plain = (sds / c4([2, 20])).mean(axis=1)

    assert np.mean(pooled) == pytest.approx(1.0, abs=0.01)
    assert np.std(pooled) < 0.6 * np.std(plain)


def test_a_subgroup_of_one_is_missing_on_both_charts():
    charts = subgroup_charts([1.0, 2.0, 3.0], [0.5, 0.5, np.nan], [4, 1, 4])

    assert list(np.isnan(charts.means.points)) == [False, True, True]
    assert list(np.isnan(charts.sds.upper)) == [False, True, True]
    assert charts.means.baseline_points == 1


@pytest.mark.parametrize(
    ("sds", "sizes", "reason"),
    [([], [], TOO_FEW_POINTS), ([0.4], [1], TOO_FEW_POINTS), ([0.0, 0.0], [5, 5], NO_VARIATION)],
)
def test_what_has_no_limits_says_why(sds, sizes, reason):
    charts = subgroup_charts([7.0] * len(sds), sds, sizes)

    assert charts.means.reason == charts.sds.reason == reason
    assert np.isnan(charts.means.upper).all()


def test_misuse_is_refused_with_its_value():
    with pytest.raises(ValueError, match=r"-0\.5"):
        subgroup_charts([1.0], [-0.5], [4])
    with pytest.raises(ValueError, match=r"\(2,\)"):
        subgroup_charts([1.0, 2.0], [0.5], [4])
