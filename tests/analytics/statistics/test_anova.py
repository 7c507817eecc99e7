"""One-way analysis of variance against scipy, and where it cannot be told."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analytics.statistics.anova import one_way


def test_groups_of_any_size_give_the_f_of_a_second_library():
    random = np.random.default_rng(1)
    groups = [random.normal(mean, 1.0, n) for mean, n in ((0.0, 3), (0.5, 9), (1.0, 1), (0.2, 20))]

    found = one_way(np.concatenate(groups), np.repeat(list("dbca"), [3, 9, 1, 20]))
    second = stats.f_oneway(*groups)

    assert found.f == pytest.approx(second.statistic)
    assert found.p_value == pytest.approx(second.pvalue)
    assert (found.groups, found.values, found.between_df, found.within_df) == (4, 33, 3, 29)


def test_equal_groups_have_their_own_size_as_common_size():
    assert one_way(np.arange(12.0), np.repeat([1, 2, 3], 4)).common_size == 4.0


def test_a_large_constant_changes_nothing():
    random = np.random.default_rng(2)
    values, groups = random.normal(size=30), np.repeat(np.arange(5), 6)

    assert one_way(values + 1e9, groups).f == pytest.approx(one_way(values, groups).f, rel=1e-5)


def test_missing_values_are_left_out():
    found = one_way([1.0, 2.0, np.nan, 4.0, 5.0], [1, 1, 1, 2, 2])

    assert found == one_way([1.0, 2.0, 4.0, 5.0], [1, 1, 2, 2])
    assert found.mean == 3.0


@pytest.mark.parametrize(
    ("values", "groups", "reason"),
    [
        ([], [], "no_values"),
        ([np.nan], [1], "no_values"),
        ([1.0, 2.0], [1, 1], "one_group"),
        ([1.0, 2.0], [1, 2], "no_repeats"),
    ],
)
def test_what_cannot_be_told_says_why(values, groups, reason):
    found = one_way(values, groups)

    assert found.reason == reason
    assert found.f is None
    assert found.within_ms is None


def test_groups_that_do_not_vary_within_have_no_f():
    found = one_way([1.0, 1.0, 2.0, 2.0], [1, 1, 2, 2])

    assert (found.f, found.p_value, found.within_ms) == (None, None, 0.0)


def test_lengths_that_differ_are_refused():
    with pytest.raises(ValueError, match="2 values with 1 groups"):
        one_way([1.0, 2.0], [1])
