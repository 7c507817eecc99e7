"""Precision and consistency of testers against plain numpy, and at every edge."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from analytics.statistics import interlaboratory as lab
from analytics.statistics.anova import one_way


def cells(testers: int, repeats: int, *, seed: int, between: float = 1.0) -> np.ndarray:
    random = np.random.default_rng(seed)
    return random.normal(0, between, (testers, 1)) + random.normal(10.0, 1.0, (testers, repeats))


def ragged(seed: int) -> np.ndarray:
    found = cells(7, 5, seed=seed)
    found[0, 2:] = np.nan
    found[3, 1:] = np.nan
    found[5] = np.nan
    return found


def test_equal_repeats_give_the_formulas_of_e691():
    table = cells(8, 3, seed=1)

    found = lab.precision(table)

    means, sds = table.mean(axis=1), table.std(axis=1, ddof=1)
    s_r = math.sqrt((sds**2).mean())
    s_x = means.std(ddof=1)
    assert found.repeatability_sd == pytest.approx(s_r)
    assert found.means_sd == pytest.approx(s_x)
    assert found.reproducibility_sd == pytest.approx(max(s_r, math.sqrt(s_x**2 + s_r**2 * 2 / 3)))
    assert found.repeatability_limit == pytest.approx(2.8 * s_r)
    assert found.reproducibility_limit == pytest.approx(2.8 * found.reproducibility_sd)


def test_unequal_repeats_give_the_components_of_the_analysis_of_variance():
    table = ragged(2)

    found = lab.precision(table)

    second = one_way(table.ravel(), np.repeat(np.arange(7), 5))
    between = (second.between_ms - second.within_ms) / second.common_size
    assert found.repeatability_sd == pytest.approx(math.sqrt(second.within_ms))
    assert found.between_sd == pytest.approx(math.sqrt(between))
    assert (found.testers, found.results) == (6, 23)


def test_testers_that_agree_better_than_they_repeat_add_nothing():
    table = np.array([[9.0, 11.0], [11.0, 9.0], [9.5, 10.5]])

    found = lab.precision(table)

    assert found.between_sd == 0.0
    assert found.reproducibility_sd == found.repeatability_sd


@pytest.mark.parametrize(
    ("table", "reason"),
    [
        (np.empty((0, 3)), "fewer_than_two_testers"),
        (np.full((3, 2), np.nan), "fewer_than_two_testers"),
        ([[1.0, 2.0]], "fewer_than_two_testers"),
        ([[1.0], [2.0], [4.0]], "no_repeats"),
    ],
)
def test_without_testers_or_repeats_there_is_no_precision(table, reason):
    found = lab.precision(table)

    assert found.reason == reason
    assert found.repeatability_sd is None
    assert found.reproducibility_limit is None


def test_equal_results_have_a_precision_of_nothing():
    found = lab.precision(np.full((3, 3), 0.1))

    assert found.reproducibility_sd == 0.0
    assert found.reason is None


def test_h_and_k_are_distances_in_the_testers_own_spreads():
    table = cells(6, 4, seed=3)

    found = lab.consistency(table)

    means, sds = table.mean(axis=1), table.std(axis=1, ddof=1)
    assert found.h == pytest.approx((means - means.mean()) / means.std(ddof=1))
    assert found.k == pytest.approx(sds / math.sqrt((sds**2).mean()))
    assert found.k_critical == lab.k_critical(6, 4)


def test_a_tester_without_repeats_has_an_h_and_no_k():
    found = lab.consistency(ragged(4))

    assert np.isfinite(found.h).tolist() == [True, True, True, True, True, False, True]
    assert np.isfinite(found.k).tolist() == [True, True, True, False, True, False, True]
    # Four of the five with repeats have five.
    assert found.k_critical == lab.k_critical(5, 5)


@pytest.mark.parametrize(
    ("table", "reason"),
    [
        ([[1.0, 2.0], [2.0, 3.0]], "fewer_than_three_testers"),
        ([[1.0], [2.0], [3.0]], "no_spread"),
        ([[1.0, 3.0], [2.0, 2.0], [0.0, 4.0]], "means_are_equal"),
        ([[2.0, 2.0]] * 4, "means_are_equal_and_no_spread"),
    ],
)
def test_consistency_says_what_it_cannot_tell(table, reason):
    assert lab.consistency(table).reason == reason


@pytest.mark.parametrize("testers", [3, 8, 30])
def test_a_twentieth_of_consistent_testers_pass_the_critical_values(testers):
    # Twenty thousand rounds: three standard errors of a share of 5 % are 0.5 %.
    random = np.random.default_rng(5)
    means = random.normal(size=(20000, testers))
    h = (means[:, 0] - means.mean(axis=1)) / means.std(axis=1, ddof=1)
    variances = random.chisquare(2, size=(20000, testers))
    k = np.sqrt(variances[:, 0] / variances.mean(axis=1))

    assert (np.abs(h) > lab.h_critical(testers, alpha=0.05)).mean() == pytest.approx(
        0.05, abs=0.005
    )
    assert (k > lab.k_critical(testers, 3, alpha=0.05)).mean() == pytest.approx(0.05, abs=0.005)


def test_cochran_with_equal_repeats_is_the_largest_share_of_all_variance():
    table = cells(6, 4, seed=6)
    table[2] *= 3

    found = lab.cochran(table)

    variances = table.var(axis=1, ddof=1)
    assert found.index == 2
    assert found.statistic == pytest.approx(variances[2] / variances.sum())
    assert found.critical == pytest.approx(lab.cochran_critical(6, 4))
    assert found.exceeds


def test_with_unequal_repeats_it_is_an_f_test_against_all_others():
    table = ragged(7)

    found = lab.cochran(table)

    tails = []
    for row in range(7):
        n = int(np.isfinite(table[row]).sum())
        if n < 2:
            continue
        rest = [other[np.isfinite(other)] for at, other in enumerate(table) if at != row]
        df = sum(len(other) - 1 for other in rest if len(other) > 1)
        pooled = sum(((other - other.mean()) ** 2).sum() for other in rest if len(other) > 1) / df
        tails.append((stats.f.sf(np.nanvar(table[row], ddof=1) / pooled, n - 1, df), row))
    assert found.index == min(tails)[1]
    assert found.p_value == pytest.approx(min(1.0, 5 * min(tails)[0]))


def test_at_its_critical_value_the_p_value_is_alpha():
    values = np.array([0.0, 1.0, 2.0, 3.0, 4.0, 9.0])

    found = lab.grubbs(values)
    there = lab.grubbs(values, alpha=found.p_value)

    assert there.critical == pytest.approx(there.statistic)
    assert found.p_value == pytest.approx(lab.grubbs(values, side="high").p_value * 2)


def test_a_twentieth_of_normal_samples_pass_the_limit_of_grubbs():
    samples = np.random.default_rng(8).normal(size=(20000, 8))
    away = np.abs(samples - samples.mean(axis=1, keepdims=True)).max(axis=1)

    beyond = away / samples.std(axis=1, ddof=1) > lab.grubbs_critical(8)

    assert beyond.mean() == pytest.approx(0.05, abs=0.005)


def test_places_count_in_what_was_given():
    assert lab.grubbs([np.nan, 1.0, 2.0, 1.5, 30.0]).index == 4
    assert lab.grubbs([np.nan, 1.0, 2.0, 1.5, 30.0], side="low").index == 1


def test_one_value_off_equal_ones_is_as_far_as_it_can_be():
    found = lab.grubbs([5.0, 5.0, 5.0, 6.0])

    assert found.statistic == pytest.approx(3 / 2)
    assert found.p_value == pytest.approx(0.0, abs=1e-6)
    assert found.exceeds


@pytest.mark.parametrize(
    ("values", "reason"),
    [
        ([], "fewer_than_three_values"),
        ([1.0, np.nan, 2.0], "fewer_than_three_values"),
        ([0.1, 0.1, 0.1, 0.1], "values_are_equal"),
    ],
)
def test_grubbs_cannot_judge_few_or_equal_values(values, reason):
    found = lab.grubbs(values)

    assert found.reason == reason
    assert found.exceeds is None


@pytest.mark.parametrize(
    ("table", "reason"),
    [
        ([[1.0, 2.0], [1.0, np.nan]], "fewer_than_two_testers_with_repeats"),
        ([[0.1, 0.1, 0.1], [0.3, 0.3, 0.3]], "no_spread"),
    ],
)
def test_cochran_cannot_judge_without_repeats_or_spread(table, reason):
    assert lab.cochran(table).reason == reason


def test_one_tester_with_all_the_spread_is_beyond_any_limit():
    found = lab.cochran([[1.0, 1.0], [1.0, 1.0], [1.0, 2.0]])

    assert (found.index, found.statistic, found.p_value, found.exceeds) == (2, 1.0, 0.0, True)


def test_what_makes_no_sense_is_refused():
    with pytest.raises(ValueError, match="shape"):
        lab.precision([1.0, 2.0])
    with pytest.raises(ValueError, match="not 2"):
        lab.h_critical(2)
    with pytest.raises(ValueError, match="not 1"):
        lab.k_critical(8, 1)
    with pytest.raises(ValueError, match="between 0 and 1, not 5"):
        lab.cochran_critical(8, 3, alpha=5)
    with pytest.raises(ValueError, match="'up'"):
        lab.grubbs([1.0, 2.0, 3.0], side="up")


def test_the_k_of_one_tester_has_no_critical_value():
    assert lab.k_critical(1, 3) is None
