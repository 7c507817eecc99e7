"""Shrunken means against second libraries, closed forms and simulated truth."""

from __future__ import annotations

import numpy as np
import pytest
from statsmodels.stats.meta_analysis import combine_effects

from analytics.statistics.shrinkage import james_stein, normal_shrinkage, tau2_reml


def drawn_testers(n: int, seed: int, tau: float = 1.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    random = np.random.default_rng(seed)
    truth, errors = random.normal(5.0, tau, n), random.uniform(0.2, 2.0, n)
    return truth, truth + errors * random.normal(size=n), errors


def test_moments_give_the_variance_of_a_second_library():
    _, values, errors = drawn_testers(40, 1)

    found = normal_shrinkage(values, errors, method="dl")
    second = combine_effects(values, errors**2, method_re="dl")

    assert found.tau**2 == pytest.approx(second.tau2)
    assert found.mean == pytest.approx(second.mean_effect_re)
    assert found.mean_se == pytest.approx(second.sd_eff_w_re)


def test_with_equal_errors_both_methods_are_the_plain_variance_less_the_errors():
    values = np.random.default_rng(2).normal(0, 2, 30)

    for method in ("reml", "dl"):
        found = normal_shrinkage(values, np.full(30, 0.5), method=method)

        assert found.tau**2 == pytest.approx(values.var(ddof=1) - 0.25, rel=1e-6)
        assert found.mean == pytest.approx(values.mean())
        assert found.towards == pytest.approx(0.25 / (0.25 + found.tau**2))


def test_no_other_variance_has_a_higher_restricted_likelihood():
    _, values, errors = drawn_testers(25, 3)

    def restricted(tau2: float) -> float:
        covariance = np.diag(errors**2 + tau2)
        inverse = np.linalg.inv(covariance)
        ones = np.ones((25, 1))
        information = ones.T @ inverse @ ones
        projection = inverse - inverse @ ones @ np.linalg.inv(information) @ ones.T @ inverse
        determinants = np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(information)[1]
        return -(determinants + values @ projection @ values) / 2

    best = restricted(tau2_reml(values, errors**2))

    assert all(restricted(tau2) <= best + 1e-9 for tau2 in np.linspace(0.0, 5.0, 200))


def test_a_value_is_drawn_by_the_share_of_its_own_error():
    _, values, errors = drawn_testers(20, 4)

    found = normal_shrinkage(values, errors)

    drawn = errors**2 / (errors**2 + found.tau**2)
    assert found.towards == pytest.approx(drawn)
    assert found.shrunken == pytest.approx(drawn * found.mean + (1 - drawn) * values)


def test_intervals_hold_the_truth_nineteen_times_in_twenty():
    held = []
    for seed in range(60):
        truth, values, errors = drawn_testers(50, seed)
        found = normal_shrinkage(values, errors)
        held.append(((found.low <= truth) & (truth <= found.high)).mean())

    assert np.mean(held) == pytest.approx(0.95, abs=0.015)


def test_differences_within_their_errors_are_drawn_all_the_way():
    found = normal_shrinkage([1.0, 1.1, 0.9], [1.0, 1.0, 1.0])

    assert found.tau == 0.0
    assert found.towards.tolist() == [1.0, 1.0, 1.0]
    assert found.shrunken == pytest.approx(1.0)
    assert (found.high > found.low).all()


def test_a_tester_without_a_value_tells_nothing():
    found = normal_shrinkage([1.0, np.nan, 3.0, 9.0], [0.1, 0.1, np.nan, 0.1])

    assert np.isnan(found.shrunken[1:3]).all()
    assert np.isfinite(found.shrunken[[0, 3]]).all()


@pytest.mark.parametrize("values", [[], [1.0], [np.nan, 2.0]])
def test_fewer_than_two_testers_cannot_be_drawn_together(values):
    found = normal_shrinkage(values, np.ones(len(values)))

    assert found.reason == "fewer_than_two_units"
    assert found.mean is None
    assert np.isnan(found.shrunken).all()


def test_equal_values_have_no_spread_between_them():
    assert normal_shrinkage([2.0, 2.0, 2.0], [0.1, 0.2, 0.3]).tau == 0.0


def test_shrinking_by_james_and_stein_lies_nearer_to_the_truth():
    random = np.random.default_rng(5)
    truth = random.normal(size=40)
    values = truth + random.normal(size=40)

    found = james_stein(values, 1.0)

    squares = ((values - values.mean()) ** 2).sum()
    assert found.constant == pytest.approx(1 - 37 / squares)
    assert ((found.shrunken - truth) ** 2).sum() < ((values - truth) ** 2).sum()


def test_james_and_stein_never_pass_the_mean():
    found = james_stein([1.0, 1.1, 0.9, 1.0], 5.0)

    assert found.constant == 0.0
    assert found.shrunken == pytest.approx(1.0)
    assert james_stein([2.0] * 5, 1.0).constant == 0.0


def test_three_values_are_too_few_for_james_and_stein():
    found = james_stein([1.0, np.nan, 2.0, 3.0], 1.0)

    assert found.reason == "fewer_than_four_values"
    assert found.constant is None


@pytest.mark.parametrize(
    ("values", "errors", "method"),
    [([1.0], [1.0, 2.0], "reml"), ([1.0, 2.0], [1.0, 0.0], "reml"), ([1.0], [1.0], "other")],
)
def test_what_makes_no_sense_is_refused(values, errors, method):
    with pytest.raises(ValueError):
        normal_shrinkage(values, errors, method=method)


def test_a_variance_of_nothing_is_refused():
    with pytest.raises(ValueError, match="not 0"):
        james_stein([1.0, 2.0, 3.0, 4.0], 0.0)
