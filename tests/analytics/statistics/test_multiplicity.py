"""False discovery rate against a second library and its own definition."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests

from analytics.statistics.multiplicity import benjamini_hochberg, expected_chance_marks


def some_p_values(n: int, seed: int) -> np.ndarray:
    random = np.random.default_rng(seed)
    return np.concatenate([random.uniform(size=n), random.beta(0.1, 5, size=n // 5)])


def by_definition(p: np.ndarray, weights: np.ndarray, rate: float) -> np.ndarray:
    """Everything up to the largest k whose p over weight is at most k rate / m."""
    divided = np.array([a / b if b else np.inf for a, b in zip(p, weights, strict=True)])
    order = np.argsort(divided)
    limits = rate * np.arange(1, len(p) + 1) / len(p)
    below = np.flatnonzero(divided[order] <= limits)
    found = np.zeros(len(p), bool)
    if len(below):
        found[order[: below[-1] + 1]] = True
    return found


@pytest.mark.parametrize("seed", range(5))
def test_q_values_are_those_of_a_second_library(seed):
    p = some_p_values(100, seed)

    found = benjamini_hochberg(p, rate=0.1)
    stands_out, q, _, _ = multipletests(p, alpha=0.1, method="fdr_bh")

    assert found.q == pytest.approx(q)
    assert (found.stands_out == stands_out).all()


@pytest.mark.parametrize("seed", range(5))
def test_weighted_discoveries_are_those_of_the_definition(seed):
    p = some_p_values(100, seed)
    weights = np.random.default_rng(seed + 50).choice([0.0, 0.5, 1.0, 3.0], len(p))

    found = benjamini_hochberg(p, rate=0.1, weights=weights)

    expected = by_definition(p, weights / weights.mean(), 0.1)
    assert expected.any()
    assert (found.stands_out == expected).all()


def test_equal_weights_of_any_size_change_nothing():
    p = some_p_values(40, 1)

    assert benjamini_hochberg(p, weights=np.full(len(p), 7.0)).q == pytest.approx(
        benjamini_hochberg(p).q
    )


def test_a_test_of_weight_zero_never_stands_out():
    found = benjamini_hochberg([0.0, 0.001], weights=[0.0, 1.0])

    assert found.stands_out.tolist() == [False, True]
    assert found.q.tolist() == [1.0, 0.001]


def test_a_test_not_made_counts_for_nothing():
    found = benjamini_hochberg([0.01, np.nan, 0.04], weights=[1.0, 9.0, 1.0])

    assert found.tests == 2
    assert np.isnan(found.q[1])
    assert not found.stands_out[1]
    assert found.q[[0, 2]] == pytest.approx([0.02, 0.04])


def test_a_table_keeps_its_shape_and_no_tests_find_nothing():
    table = benjamini_hochberg([[0.01, 0.5], [0.04, np.nan]])

    assert table.q.shape == (2, 2)
    assert benjamini_hochberg([]).tests == 0
    assert benjamini_hochberg([np.nan]).tests == 0


@pytest.mark.parametrize(
    ("p", "rate", "weights"),
    [
        ([1.2], 0.05, None),
        ([-0.1], 0.05, None),
        ([0.5], 0.0, None),
        ([0.5], 0.05, [1.0, 2.0]),
        ([0.5, 0.5], 0.05, [1.0, -1.0]),
        ([0.5, 0.5], 0.05, [0.0, 0.0]),
        ([0.5, 0.5], 0.05, [1.0, np.nan]),
    ],
)
def test_what_makes_no_sense_is_refused(p, rate, weights):
    with pytest.raises(ValueError):
        benjamini_hochberg(p, rate=rate, weights=weights)


def test_two_hundred_testers_and_six_measures_give_two_marks_by_chance():
    found = expected_chance_marks(200 * 6, 0.002)

    assert found.expected == pytest.approx(2.4)
    held = stats.binom.cdf(found.high, 1200, 0.002) - stats.binom.cdf(found.low - 1, 1200, 0.002)
    assert held >= 0.95
    assert (found.low, found.high) == (0, 6)


def test_no_tests_give_no_marks():
    found = expected_chance_marks(0, 0.002)

    assert (found.expected, found.low, found.high) == (0.0, 0, 0)
    with pytest.raises(ValueError, match="-1 tests"):
        expected_chance_marks(-1, 0.002)
