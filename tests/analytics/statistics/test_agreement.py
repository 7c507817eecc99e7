"""Limits of agreement: coverage of the exact intervals by simulation, and every edge."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from analytics.statistics.agreement import NORMAL_95, limits_of_agreement, tolerance_factor


def pairs(n: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    random = np.random.default_rng(seed)
    first = random.uniform(20.0, 60.0, n)
    return first, first * 0.9 + random.normal(0.0, 3.0, n)


def test_bias_and_limits_are_mean_and_sds_of_the_differences():
    first, second = pairs(30, 1)

    found = limits_of_agreement(first, second, intervals="approximate")

    apart = first - second
    half = stats.t.ppf(0.975, 29) * apart.std(ddof=1)
    assert found.bias.value == pytest.approx(apart.mean())
    assert found.bias.high - found.bias.value == pytest.approx(half / math.sqrt(30))
    assert found.upper.value - found.bias.value == pytest.approx(NORMAL_95 * apart.std(ddof=1))
    assert found.lower.high - found.lower.value == pytest.approx(half * math.sqrt(3 / 30))


@pytest.mark.parametrize("n", [5, 12, 40])
def test_each_exact_interval_holds_its_limit_nineteen_times_in_twenty(n):
    found = limits_of_agreement(*pairs(n, 2))
    inner, outer = (
        (end - found.bias.value) / found.sd for end in (found.upper.low, found.upper.high)
    )
    samples = np.random.default_rng(3).normal(size=(20000, n))
    mean, sd = samples.mean(axis=1), samples.std(axis=1, ddof=1)

    # Three standard errors of 2.5 % over 20000 samples are 0.33 %.
    assert (mean + inner * sd > NORMAL_95).mean() == pytest.approx(0.025, abs=0.0034)
    assert (mean + outer * sd < NORMAL_95).mean() == pytest.approx(0.025, abs=0.0034)
    assert found.bias.value - found.lower.low == pytest.approx(outer * found.sd)
    assert found.bias.value - found.lower.high == pytest.approx(inner * found.sd)


@pytest.mark.parametrize("n", [5, 12, 40])
def test_a_pair_of_exact_limits_holds_its_share_as_often_as_said(n):
    found = limits_of_agreement(*pairs(n, 2), intervals="pair")
    inner, outer = (
        (end - found.bias.value) / found.sd for end in (found.upper.low, found.upper.high)
    )
    samples = np.random.default_rng(4).normal(size=(20000, n))
    mean, sd = samples.mean(axis=1), samples.std(axis=1, ddof=1)

    def held(factor: float) -> np.ndarray:
        return stats.norm.cdf(mean + factor * sd) - stats.norm.cdf(mean - factor * sd)

    assert (held(inner) > 0.95).mean() == pytest.approx(0.025, abs=0.0034)
    assert (held(outer) < 0.95).mean() == pytest.approx(0.025, abs=0.0034)


def test_the_approximate_interval_is_too_narrow_outwards_for_few_pairs():
    exact = limits_of_agreement(*pairs(10, 5))
    approximate = limits_of_agreement(*pairs(10, 5), intervals="approximate")

    assert exact.upper.high > approximate.upper.high
    assert exact.upper.low > approximate.upper.low


def test_for_many_pairs_all_ways_agree_and_the_quick_one_is_used():
    exact = limits_of_agreement(*pairs(1000, 6))
    many = limits_of_agreement(*pairs(1001, 6))

    half = stats.t.ppf(0.975, 999) * exact.sd * math.sqrt(3 / 1000)
    assert exact.intervals == "each"
    assert exact.upper.high - exact.upper.value == pytest.approx(half, rel=0.05)
    assert many.intervals == "approximate"


def test_on_the_log_scale_limits_are_ratios():
    first = np.array([10.0, 22.0, 41.0, 77.0, 160.0])
    second = np.array([11.0, 20.0, 38.0, 84.0, 150.0])

    found = limits_of_agreement(first, second, log_scale=True)
    plain = limits_of_agreement(np.log(first), np.log(second))

    assert found.bias.value == pytest.approx(math.exp(plain.bias.value))
    assert found.upper.high == pytest.approx(math.exp(plain.upper.high))
    assert found.lower.low == pytest.approx(math.exp(plain.lower.low))
    assert found.sd == pytest.approx(plain.sd)


def test_turning_the_pairs_round_turns_the_limits_round():
    first, second = pairs(15, 7)

    one, other = limits_of_agreement(first, second), limits_of_agreement(second, first)

    assert one.lower.low == pytest.approx(-other.upper.high)
    assert one.bias.low == pytest.approx(-other.bias.high)


def test_pairs_with_a_missing_value_are_left_out():
    first, second = pairs(10, 8)

    found = limits_of_agreement([*first, np.nan, 3.0], [*second, 5.0, np.nan])

    assert found == limits_of_agreement(first, second)


@pytest.mark.parametrize("values", [[], [1.0], [1.0, 2.0], [np.nan] * 5])
def test_two_pairs_are_too_few(values):
    found = limits_of_agreement(values, values)

    assert found.reason == "too_few_pairs"
    assert (found.bias, found.lower, found.sd) == (None, None, None)


def test_a_negative_response_has_no_ratio():
    found = limits_of_agreement([1.0, 2.0, -3.0, 4.0], [1.0, 2.0, 3.0, 4.0], log_scale=True)

    assert found.reason == "values_not_positive"


def test_equal_pairs_differ_by_nothing():
    found = limits_of_agreement([1.0, 2.0, 3.0], [1.0, 2.0, 3.0])

    assert (found.bias.value, found.lower.low, found.upper.high) == (0.0, 0.0, 0.0)


def test_what_makes_no_sense_is_refused():
    with pytest.raises(ValueError, match="2 first values with 1 second"):
        limits_of_agreement([1.0, 2.0], [1.0])
    with pytest.raises(ValueError, match="not 0"):
        limits_of_agreement([1.0], [1.0], multiplier=0)
    with pytest.raises(ValueError, match="'exact'"):
        limits_of_agreement([1.0], [1.0], intervals="exact")
    with pytest.raises(ValueError, match="confidence 1"):
        tolerance_factor(5, confidence=1)
