"""Moments and histograms that merge, against numpy and scipy on all values at once."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from analytics.statistics.moments import (
    Histogram,
    Moments,
    histogram,
    merge,
    merge_all,
    merge_histograms,
    moments,
)

numbers = st.lists(st.integers(-1000, 1000).map(lambda n: n / 8), max_size=12)


def test_moments_are_those_of_second_libraries():
    values = np.random.default_rng(1).gamma(2.0, size=500)

    found = moments(values)

    assert found.n == 500
    assert found.mean == pytest.approx(values.mean())
    assert found.sd == pytest.approx(values.std(ddof=1))
    assert found.skewness == pytest.approx(stats.skew(values))
    assert found.excess_kurtosis == pytest.approx(stats.kurtosis(values))
    assert (found.low, found.high) == (values.min(), values.max())


def test_parts_of_any_size_merge_to_the_whole():
    values = np.random.default_rng(2).gamma(2.0, size=300) + 100
    parts = np.split(values, [0, 1, 3, 40, 41, 250])

    found, whole = merge_all(moments(part) for part in parts), moments(values)

    for field in ("n", "mean", "m2", "m3", "m4", "low", "high"):
        assert getattr(found, field) == pytest.approx(getattr(whole, field), rel=1e-9), field


@given(numbers, numbers, numbers)
def test_merging_does_not_depend_on_the_order(a, b, c):
    one, two, three = moments(a), moments(b), moments(c)

    left, right = merge(merge(one, two), three), merge(three, merge(two, one))

    for field in ("n", "mean", "low", "high", "m2", "m3", "m4"):
        wanted = getattr(right, field)
        assert getattr(left, field) == (
            None if wanted is None else pytest.approx(wanted, rel=1e-9, abs=1e-3)
        )


def test_an_empty_part_changes_nothing():
    some = moments([1.0, 2.0])

    assert merge(Moments(), some) == some == merge(some, moments([np.nan]))
    assert merge_all([]) == Moments()


def test_what_too_few_values_cannot_tell_is_none():
    empty, one, equal = moments([]), moments([3.0]), moments([0.1] * 5)

    assert (empty.mean, empty.variance, empty.sd, empty.skewness) == (None,) * 4
    assert (one.mean, one.sd, one.low, one.high) == (3.0, None, 3.0, 3.0)
    assert (equal.sd, equal.skewness, equal.excess_kurtosis) == (0.0, None, None)


def test_missing_values_are_left_out():
    assert moments([1.0, np.nan, 4.0, np.inf]) == moments([1.0, 4.0])


def test_a_histogram_answers_as_all_values_sorted_would():
    values = np.random.default_rng(3).integers(-40, 60, 501) / 10

    found = histogram(values, step="0.1")

    assert found.n == 501
    assert found.mean == pytest.approx(values.mean())
    for share in (0.0, 0.025, 0.1, 0.5, 0.9, 1.0):
        second = np.quantile(values, share, method="inverted_cdf")
        assert found.quantile(share) == pytest.approx(second), share


@pytest.mark.parametrize("n", [1, 2, 10, 20, 40, 100])
def test_quantiles_at_whole_numbers_of_values_are_exact(n):
    values = np.arange(n)

    found = histogram(values)

    for twentieth in range(21):
        # In whole numbers, for numpy takes 0.55 * 100 for a little more than 55.
        place = max(-(-twentieth * n // 20), 1)
        assert found.quantile(twentieth / 20) == values[place - 1]


@given(st.lists(st.integers(-50, 50), max_size=30), st.lists(st.integers(-50, 50), max_size=30))
def test_merged_histograms_are_the_histogram_of_all(a, b):
    assert merge_histograms(histogram(a), histogram(b)) == histogram([*a, *b])


def test_an_empty_histogram_tells_nothing():
    empty = histogram([np.nan])

    assert (empty.n, empty.mean, empty.quantile(0.5)) == (0, None, None)


def test_a_value_is_put_back_on_its_grid():
    found = histogram([0.1 + 0.2, 0.3], step="0.1")

    assert found == Histogram(Decimal("0.1"), ((3, 2),))
    assert found.quantile(0.5) == 0.3


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: histogram([1.0, 1.5]),
        lambda: histogram([1.0], step="0"),
        lambda: histogram([1.0]).quantile(1.1),
        lambda: merge_histograms(histogram([1.0]), histogram([1.0], step="0.5")),
    ],
)
def test_what_makes_no_sense_is_refused(wrong):
    with pytest.raises(ValueError):
        wrong()
