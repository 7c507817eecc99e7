"""Intervals and limits of shares, against two other libraries and plain probabilities."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from analytics.statistics.proportions import (
    exact_binomial_limits,
    interpolated_binomial_limits,
    normal_limits,
    poisson_ratio_limits,
    two_sided_z,
    wilson_interval,
)


def test_wilson_intervals_are_those_of_two_libraries():
    rng = np.random.default_rng(1)

    for trials in rng.integers(1, 400, 25):
        events = int(rng.integers(0, trials + 1))
        found = wilson_interval(events, int(trials), confidence=0.9)
        scipys = stats.binomtest(events, int(trials)).proportion_ci(0.9, method="wilson")
        low, high = proportion_confint(events, int(trials), alpha=0.1, method="wilson")
        assert (found.low, found.high) == pytest.approx((scipys.low, scipys.high), abs=1e-12)
        assert (found.low, found.high) == pytest.approx((low, high), abs=1e-12)


def test_without_trials_there_is_no_share():
    found = wilson_interval(0, 0)

    assert (found.value, found.low, found.high) == (None, None, None)


def test_at_no_and_at_all_events_the_interval_ends_exactly():
    for trials in range(1, 60):
        assert wilson_interval(0, trials).low == 0.0
        assert wilson_interval(trials, trials).high == 1.0


@pytest.mark.parametrize(("events", "trials"), [(-1, 5), (6, 5), (0, -1)])
def test_counts_that_cannot_be_are_refused(events, trials):
    with pytest.raises(ValueError, match=str(events)):
        wilson_interval(events, trials)


@pytest.mark.parametrize("level", [0.0, 1.0, 95.0])
def test_a_level_that_is_no_share_is_refused(level):
    with pytest.raises(ValueError, match=str(level)):
        two_sided_z(level)
    with pytest.raises(ValueError, match=str(level)):
        interpolated_binomial_limits([10], target=0.1, level=level)
    with pytest.raises(ValueError, match=str(level)):
        poisson_ratio_limits([10], level=level)


def test_an_interpolated_limit_lies_within_one_count_below_the_exact_one():
    n = np.arange(1, 300)

    exact = exact_binomial_limits(n, target=0.13, level=0.998)
    between = interpolated_binomial_limits(n, target=0.13, level=0.998, clamped=False)

    for apart in (exact.lower - between.lower, exact.upper - between.upper):
        assert np.all(apart * n > -1e-9)
        assert np.all(apart * n < 1 + 1e-9)


def test_beyond_the_exact_limits_lies_no_more_than_their_share():
    for n in (3, 20, 47, 211):
        band = exact_binomial_limits(n, target=0.2, level=0.95)
        below = stats.binom.cdf(np.rint(band.lower * n) - 1, n, 0.2)
        above = stats.binom.sf(np.rint(band.upper * n), n, 0.2)
        assert below < 0.025
        assert above <= 0.025
        # One count nearer would be too near.
        assert stats.binom.cdf(np.rint(band.lower * n), n, 0.2) >= 0.025
        assert stats.binom.sf(np.rint(band.upper * n) - 1, n, 0.2) > 0.025


def test_few_trials_put_a_limit_below_nothing_and_display_does_not_show_it():
    # 47 operations at 7.39 %: -0.0205 (computed; the value stands in the published folder too).
    free = interpolated_binomial_limits([47], target=0.073916, level=0.998, clamped=False)
    shown = interpolated_binomial_limits([47], target=0.073916, level=0.998)

    assert free.lower[0] == pytest.approx(-0.0205, abs=5e-5)
    assert shown.lower[0] == 0.0
    assert shown.upper[0] == free.upper[0]


@pytest.mark.parametrize("target", [0.0, 1.0])
def test_at_a_target_of_none_or_all_the_limits_are_the_target(target):
    band = interpolated_binomial_limits([1, 50], target=target, level=0.95)

    assert list(band.lower) == list(band.upper) == [target, target]


def test_without_trials_there_are_no_limits():
    for band in (
        interpolated_binomial_limits([0, 10], target=0.1, level=0.95),
        exact_binomial_limits([0, 10], target=0.1, level=0.95),
        normal_limits([0, 10], target=0.1, level=0.95),
        poisson_ratio_limits([0, 10], level=0.95),
    ):
        assert list(np.isnan(band.lower)) == list(np.isnan(band.upper)) == [True, False]


def test_many_trials_bring_binomial_limits_to_the_normal_ones():
    n = np.array([200_000.0])

    normal = normal_limits(n, target=0.3, level=0.95)
    between = interpolated_binomial_limits(n, target=0.3, level=0.95)

    assert normal.upper == pytest.approx(0.3 + 1.959964 * np.sqrt(0.21 / n), rel=1e-7)
    assert between.upper - 0.3 == pytest.approx(normal.upper - 0.3, rel=5e-3)
    assert between.lower - 0.3 == pytest.approx(normal.lower - 0.3, rel=5e-3)


def test_phi_widens_normal_limits_by_its_root():
    plain = normal_limits([400], target=0.5, level=0.95)
    wider = normal_limits([400], target=0.5, level=0.95, phi=4.0)

    assert wider.upper[0] - 0.5 == pytest.approx(2 * (plain.upper[0] - 0.5))


def test_normal_limits_are_kept_from_zero_to_one_unless_asked():
    assert normal_limits([5], target=0.1, level=0.95).lower[0] == 0.0
    assert normal_limits([5], target=0.1, level=0.95, clamped=False).lower[0] < 0
    assert normal_limits([5], target=0.9, level=0.95).upper[0] == 1.0


@pytest.mark.parametrize("expected", [1, 4, 25])
def test_beyond_exact_poisson_limits_as_many_or_more_is_the_tail(expected):
    # Garwood's definition: at the lower limit the chance of E or more is p, at the upper of E or
    # fewer.
    band = poisson_ratio_limits([expected], level=0.95)

    assert stats.poisson.sf(expected - 1, band.lower[0] * expected) == pytest.approx(0.025)
    assert stats.poisson.cdf(expected, band.upper[0] * expected) == pytest.approx(0.025)


def test_misuse_is_refused_with_its_value():
    with pytest.raises(ValueError, match="-3"):
        interpolated_binomial_limits([5, -3], target=0.1, level=0.95)
    with pytest.raises(ValueError, match=r"1\.5"):
        exact_binomial_limits([5], target=1.5, level=0.95)
    with pytest.raises(ValueError, match="-2"):
        poisson_ratio_limits([-2.0], level=0.95)
    with pytest.raises(ValueError, match="phi"):
        normal_limits([5], target=0.1, level=0.95, phi=0)
