"""Marks on far values: what is marked, what cannot be judged, and that places are right."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from analytics.statistics import outliers


def sample(n: int, seed: int) -> np.ndarray:
    return np.random.default_rng(seed).normal(50.0, 4.0, n)


def test_the_modified_z_uses_the_mad_of_a_second_library():
    values = sample(31, 1)

    found = outliers.modified_z(values)

    mad = stats.median_abs_deviation(values)
    assert found.scale_from == "mad"
    assert found.z == pytest.approx(0.6745 * (values - np.median(values)) / mad)


@pytest.mark.parametrize(
    ("off", "marked"), [(3.49, False), (-3.49, False), (3.51, True), (-3.51, True)]
)
def test_a_value_is_marked_beyond_three_and_a_half(off, marked):
    # Nine values of MAD 1 around 0; the tenth and eleventh keep median and MAD.
    values = [-2.0, -1.0, -1.0, -1.0, 0.0, 1.0, 1.0, 1.0, 2.0]
    far = off / 0.6745

    found = outliers.modified_z([*values, far, -math.copysign(3.0, far)])

    assert bool(found.marked[9]) is marked


def test_where_over_half_are_equal_the_mean_deviation_takes_over():
    values = [2.0] * 8 + [3.0, 12.0]

    found = outliers.modified_z(values)

    assert found.scale_from == "mean_deviation"
    assert found.z[-1] == pytest.approx(10.0 / (1.253314 * 1.1))
    assert found.marked.tolist() == [False] * 9 + [True]


@pytest.mark.parametrize(
    ("values", "reason"),
    [
        ([], "too_few_values"),
        ([1.0, np.nan, 2.0], "too_few_values"),
        ([0.1] * 6, "values_are_equal"),
        ([0.1, 0.1, np.nan, 0.1], "values_are_equal"),
    ],
)
def test_the_modified_z_says_when_it_cannot_judge(values, reason):
    found = outliers.modified_z(values)

    assert found.reason == reason
    assert len(found.z) == len(values)
    assert np.isnan(found.z).all()
    assert not found.marked.any()


def test_tukeys_fences_are_one_and_a_half_interquartile_ranges_out():
    values = np.arange(1.0, 10.0)

    found = outliers.tukey_fences(values)

    assert (found.low, found.high, found.medcouple) == (3 - 6, 7 + 6, 0.0)


@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_a_long_tail_moves_its_own_fence_outwards(turn):
    values = turn * np.random.default_rng(2).gamma(1.5, size=400)

    plain, adjusted = outliers.tukey_fences(values), outliers.adjusted_fences(values)

    assert math.copysign(1.0, adjusted.medcouple) == turn
    assert adjusted.marked.sum() < plain.marked.sum()
    first, third = np.quantile(values, [0.25, 0.75])
    skew = abs(adjusted.medcouple)
    reaches = sorted(
        [(first - adjusted.low) / (third - first), (adjusted.high - third) / (third - first)]
    )
    assert reaches == pytest.approx([1.5 * math.exp(-4 * skew), 1.5 * math.exp(3 * skew)])


def test_a_symmetric_sample_has_tukeys_fences():
    values = np.concatenate([np.arange(1.0, 30.0), -np.arange(1.0, 30.0)])

    plain, adjusted = outliers.tukey_fences(values), outliers.adjusted_fences(values)

    assert adjusted.medcouple == pytest.approx(0.0)
    assert (adjusted.low, adjusted.high) == pytest.approx((plain.low, plain.high))


def test_very_many_values_are_sampled_the_same_way_in_any_order(monkeypatch):
    monkeypatch.setattr(outliers, "MOST_FOR_MEDCOUPLE", 800)
    values = np.random.default_rng(3).gamma(2.0, size=2000)

    one, other = outliers.adjusted_fences(values), outliers.adjusted_fences(values[::-1])

    assert one.sampled
    assert (one.low, one.high) == (other.low, other.high)
    # The medcouple of a hundred thousand values of this distribution.
    assert one.medcouple == pytest.approx(0.217, abs=0.06)


@pytest.mark.parametrize(
    ("values", "reason"),
    [
        ([1.0, 2.0, 3.0, np.nan], "too_few_values"),
        ([2.0] * 9, "most_values_are_equal"),
        ([2.0] * 9 + [7.0], "most_values_are_equal"),
    ],
)
def test_fences_need_a_spread_of_the_middle_half(values, reason):
    for fences in (outliers.tukey_fences, outliers.adjusted_fences):
        found = fences(values)

        assert (found.reason, found.low, found.high) == (reason, None, None)
        assert not found.marked.any()


def test_missing_values_are_never_marked_and_keep_their_places():
    values = np.insert(sample(20, 4), [3, 9], np.nan)
    values[15] = 500.0

    for marked in (
        outliers.modified_z(values).marked,
        outliers.tukey_fences(values).marked,
        outliers.adjusted_fences(values).marked,
    ):
        assert np.flatnonzero(marked).tolist() == [15]
    assert outliers.extreme_deviates(values, most=3).places == (15,)


def test_one_far_value_does_not_hide_behind_another():
    # Masking: one at a time the larger pair would hide itself.
    values = np.concatenate([sample(20, 5), [120.0, 121.0]])

    assert outliers.extreme_deviates(values, most=5).places == (20, 21)


def test_a_twentieth_of_normal_samples_have_any_extreme_deviate():
    found = [outliers.extreme_deviates(sample(25, seed), most=3).places for seed in range(400)]

    # Rosner's limits hold from 25 values; three standard errors are 3.3 %.
    assert np.mean([len(places) > 0 for places in found]) == pytest.approx(0.05, abs=0.033)


@pytest.mark.parametrize("values", [[], [1.0, 2.0, 3.0], [np.nan] * 9])
def test_three_values_are_too_few_for_extreme_deviates(values):
    found = outliers.extreme_deviates(values)

    assert (found.reason, found.places) == ("too_few_values", ())


def test_equal_values_have_no_extreme_deviates():
    assert outliers.extreme_deviates([0.1] * 10).places == ()


def test_robust_distances_see_a_group_that_pulls_the_plain_ones_along():
    random = np.random.default_rng(6)
    rows = random.normal(size=(80, 2)) @ np.array([[1.0, 0.8], [0.0, 0.6]])
    rows[:15] += [6.0, -6.0]

    found = outliers.robust_distances(rows)

    assert found.marked[:15].all()
    assert found.marked[15:].mean() < 0.15
    assert found.limit == pytest.approx(stats.chi2.ppf(0.975, 2))


def test_distances_are_the_same_each_time_and_in_other_units():
    rows = np.random.default_rng(7).normal(size=(60, 3))

    one = outliers.robust_distances(rows)
    again = outliers.robust_distances(rows)
    scaled = outliers.robust_distances(rows * [1000.0, 0.01, 1.0] + [5.0, 7.0, -3.0])

    assert (one.squared == again.squared).all()
    assert scaled.squared == pytest.approx(one.squared, rel=1e-6)


def test_an_incomplete_row_has_no_distance():
    rows = np.random.default_rng(8).normal(size=(40, 2))
    rows[[4, 30], [0, 1]] = np.nan

    found = outliers.robust_distances(rows)

    assert np.flatnonzero(np.isnan(found.squared)).tolist() == [4, 30]
    assert not found.marked[[4, 30]].any()


def doubled(rows: np.ndarray) -> np.ndarray:
    return np.column_stack([rows, rows.sum(axis=1)])


def mostly_flat(rows: np.ndarray) -> np.ndarray:
    flat = rows.copy()
    flat[:50] = 0.0
    return flat


@pytest.mark.parametrize(
    ("made", "reason"),
    [
        (lambda rows: rows[:10], "too_few_rows"),
        (doubled, "columns_do_not_vary_freely"),
        (np.ones_like, "columns_do_not_vary_freely"),
        (mostly_flat, "most_rows_lie_on_a_plane"),
    ],
)
def test_distances_need_rows_enough_that_vary_freely(made, reason):
    rows = made(np.random.default_rng(9).normal(size=(60, 2)))

    found = outliers.robust_distances(rows)

    assert found.reason == reason
    assert np.isnan(found.squared).all()
    assert not found.marked.any()


def test_eleven_rows_of_two_columns_are_just_enough():
    assert outliers.robust_distances(np.random.default_rng(1).normal(size=(11, 2))).reason is None


def test_what_makes_no_sense_is_refused():
    with pytest.raises(ValueError, match="shape"):
        outliers.robust_distances([1.0, 2.0])
    with pytest.raises(ValueError, match="not 0"):
        outliers.extreme_deviates([1.0], most=0)
