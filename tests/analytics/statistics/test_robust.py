"""Robust locations and spreads against second libraries, plain numpy and their own definitions."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from statsmodels.robust import norms
from statsmodels.robust.scale import Huber

from analytics.statistics import robust

LOCATIONS = [robust.algorithm_a, robust.trimmed_mean, robust.biweight]


def contaminated(n: int, seed: int) -> np.ndarray:
    random = np.random.default_rng(seed)
    values = random.normal(10.0, 2.0, n)
    values[: n // 10] += 30.0
    return values


@pytest.mark.parametrize("seed", range(5))
def test_algorithm_a_is_hubers_second_proposal_but_for_rounded_constants(seed):
    values = contaminated(60, seed)

    found = robust.algorithm_a(values, figures=9)
    location, scale = Huber(c=1.5, tol=1e-9, maxiter=500)(values)

    assert found.location == pytest.approx(location, abs=2e-3 * scale)
    assert found.scale == pytest.approx(scale, rel=2e-3)
    assert found.se == pytest.approx(1.25 * found.scale / np.sqrt(60))


def test_the_stop_rule_ends_within_the_third_figure_of_the_strict_answer():
    values = contaminated(60, 1)

    quick, strict = robust.algorithm_a(values), robust.algorithm_a(values, figures=10)

    assert quick.scale != strict.scale
    assert quick.scale == pytest.approx(strict.scale, rel=5e-3)


def test_over_half_equal_values_still_start_algorithm_a():
    found = robust.algorithm_a([5.0, 5.0, 5.0, 5.0, 5.0, 5.0, 4.0, 6.0, 7.0])

    assert found.location == pytest.approx(5.0, abs=0.2)
    assert np.isfinite(found.scale)


@pytest.mark.parametrize("n", [5, 15, 34, 50])
def test_the_trimmed_mean_and_its_error_are_those_of_yuens_test(n):
    one, other = contaminated(n, 1), contaminated(n, 2) + 0.5

    a, b = robust.trimmed_mean(one), robust.trimmed_mean(other)
    second = stats.ttest_ind(one, other, equal_var=False, trim=0.2)

    assert a.location == pytest.approx(stats.trim_mean(one, 0.2))
    ours = (a.location - b.location) / np.sqrt(a.se**2 + b.se**2)
    assert ours == pytest.approx(second.statistic)


def test_untrimmed_it_is_the_mean_and_its_standard_error():
    values = contaminated(25, 3)

    found = robust.trimmed_mean(values, proportion=0.0)

    assert found.location == pytest.approx(values.mean())
    assert found.se == pytest.approx(stats.sem(values))


@pytest.mark.parametrize("seed", range(5))
def test_the_biweight_is_that_of_a_second_library_with_the_same_scale(seed):
    values = contaminated(60, seed)

    found = robust.biweight(values)
    norm = norms.TukeyBiweight(c=robust.BIWEIGHT_SDS)
    second = norms.estimate_location(values, float(found.scale), norm, maxiter=500, tol=1e-12)

    assert found.location == pytest.approx(float(second), abs=1e-7)


@pytest.mark.parametrize(
    # The standard's 1.25 is that of a median, so its u is cautious: by 1.23 on normal data.
    ("location", "cautious"),
    [(robust.algorithm_a, 1.23), (robust.trimmed_mean, 1.0), (robust.biweight, 1.0)],
)
def test_the_standard_error_is_the_spread_of_estimates_over_many_samples(location, cautious):
    samples = np.random.default_rng(5).normal(size=(2000, 40))

    found = location(samples)

    # Five percent is about three standard errors of an SD over 2000 samples.
    assert found.se.mean() / found.location.std() == pytest.approx(cautious, rel=0.05)


def test_a_tenth_far_off_moves_them_little_where_it_moves_the_mean_by_three():
    values = contaminated(200, 6)

    assert values.mean() > 12.5
    for location in LOCATIONS:
        assert location(values).location == pytest.approx(10.0, abs=0.8)


def test_a_weight_of_two_is_a_value_given_twice():
    values = np.array([1.0, 2.0, 4.0, 8.0, 9.0, 40.0])
    weights = np.array([1, 2, 1, 3, 1, 2])
    repeated = np.repeat(values, weights)

    assert robust.median(values, weights=weights) == np.median(repeated)
    assert robust.made(values, weights=weights) == pytest.approx(robust.made(repeated))
    assert robust.biweight(values, weights=weights).location == pytest.approx(
        robust.biweight(repeated).location
    )


def test_the_middle_of_two_halves_of_weight_is_their_mean():
    assert robust.median([1.0, 3.0], weights=[0.1, 0.1]) == 2.0
    assert robust.median([1.0, 3.0, 9.0], weights=[0.1, 0.2, 0.3]) == 6.0


def test_quartiles_and_mad_are_those_of_a_second_library():
    values = contaminated(33, 8)

    assert robust.niqr(values) == pytest.approx(0.7413 * stats.iqr(values))
    assert robust.made(values) == pytest.approx(1.483 * stats.median_abs_deviation(values))


@pytest.mark.parametrize(
    "function",
    [robust.median, robust.made, robust.niqr, *LOCATIONS],
    ids=lambda function: function.__name__,
)
@pytest.mark.parametrize("axis", [0, 1, -1])
def test_a_table_gives_what_its_slices_give_without_their_missing_values(function, axis):
    random = np.random.default_rng(9)
    table = random.normal(size=(12, 3, 9))
    table[random.random(table.shape) < 0.2] = np.nan
    table[0, 0, 0] = np.inf

    found = function(table, axis=axis)

    moved = np.moveaxis(table, axis, -1)
    for place in np.ndindex(moved.shape[:-1]):
        alone = function(moved[place][np.isfinite(moved[place])])
        for field in ("location", "scale", "se", "n"):
            whole = getattr(found, field, found)[place]
            wanted = float(getattr(alone, field, alone))
            assert float(whole) == pytest.approx(wanted, rel=1e-9, nan_ok=True), field


@pytest.mark.parametrize("location", LOCATIONS, ids=lambda function: function.__name__)
def test_without_values_nothing_is_told_and_of_one_no_spread(location):
    empty, none, one = location([]), location([np.nan, np.nan]), location([3.0])

    assert np.isnan([empty.location, none.location, one.scale, one.se]).all()
    assert (empty.n, none.n, one.n, one.location) == (0, 0, 1, 3.0)


@pytest.mark.parametrize("location", LOCATIONS, ids=lambda function: function.__name__)
def test_equal_values_are_their_own_location_without_spread(location):
    found = location([0.1] * 7)

    assert found.location == pytest.approx(0.1)
    assert found.scale == pytest.approx(0.0, abs=1e-15)
    assert found.se == pytest.approx(0.0, abs=1e-15)


def test_what_makes_no_sense_is_refused():
    with pytest.raises(ValueError, match=r"not 0\.5"):
        robust.trimmed_mean([1.0, 2.0], proportion=0.5)
    with pytest.raises(ValueError, match="negative: -1"):
        robust.median([1.0, 2.0], weights=[1.0, -1.0])
    with pytest.raises(ValueError, match="shape"):
        robust.median([1.0, 2.0], weights=[1.0])
    with pytest.raises(ValueError, match="not 0"):
        robust.algorithm_a([1.0, 2.0], figures=0)
