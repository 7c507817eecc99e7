"""Shrunken shares against plain formulas and simulated truth."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analytics.statistics.beta_binomial import (
    BetaPrior,
    fit_by_likelihood,
    fit_by_moments,
    log_likelihood,
    shrunken_shares,
)


def simulated(testers: int, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    random = np.random.default_rng(seed)
    truth, trials = random.beta(4.0, 36.0, testers), random.integers(10, 300, testers)
    return truth, random.binomial(trials, truth), trials


def log_beta(a: float, b: float) -> float:
    return math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)


def test_the_likelihood_is_the_formula_with_gamma_functions():
    events, trials = np.array([0.0, 3.0, 7.0]), np.array([5.0, 10.0, 7.0])

    by_hand = sum(
        math.log(math.comb(int(n), int(r))) + log_beta(2.5 + r, 4.0 + n - r) - log_beta(2.5, 4.0)
        for r, n in zip(events, trials, strict=True)
    )

    assert log_likelihood(2.5, 4.0, events, trials) == pytest.approx(by_hand)


def test_nothing_near_the_fit_is_more_likely():
    _, events, trials = simulated(60, 1)

    found = fit_by_likelihood(events, trials)
    best = log_likelihood(found.alpha, found.beta, events, trials)

    for a in (0.9, 1.0, 1.1):
        for b in (0.9, 1.0, 1.1):
            assert log_likelihood(found.alpha * a, found.beta * b, events, trials) <= best + 1e-6


def test_the_spread_between_many_testers_is_found_again():
    _, events, trials = simulated(600, 2)

    found = fit_by_likelihood(events, trials)

    assert found.mean == pytest.approx(0.1, abs=0.005)
    assert found.sd == pytest.approx(math.sqrt(4 * 36 / (40**2 * 41)), rel=0.1)
    assert not found.at_bound


def test_moments_overstate_the_spread():
    _, events, trials = simulated(600, 2)

    assert fit_by_moments(events, trials).sd > fit_by_likelihood(events, trials).sd


def test_intervals_hold_the_truth_nineteen_times_in_twenty():
    truth, events, trials = simulated(1500, 3)

    found = shrunken_shares(events, trials, fit_by_likelihood(events, trials))

    held = ((found.low <= truth) & (truth <= found.high)).mean()
    # Three standard errors of 95 % over 1500 testers are 1.7 %.
    assert held == pytest.approx(0.95, abs=0.017)


def test_shrunken_shares_lie_nearer_to_the_truth_than_raw_ones():
    truth, events, trials = simulated(300, 4)

    found = shrunken_shares(events, trials, fit_by_likelihood(events, trials))

    assert ((found.share - truth) ** 2).sum() < 0.8 * ((events / trials - truth) ** 2).sum()


def test_a_tester_without_visits_has_the_networks_share():
    prior = BetaPrior(2.0, 6.0)

    found = shrunken_shares([0, 3], [0, 4], prior)

    assert found.share.tolist() == [0.25, 5 / 12]
    assert found.low[0] < 0.25 < found.high[0]


def test_counts_without_spread_beyond_chance_never_become_a_point():
    found = fit_by_likelihood([2, 4, 6], [20, 40, 60])
    shares = shrunken_shares([2, 4, 6], [20, 40, 60], found)

    assert found.at_bound
    assert found.alpha + found.beta == pytest.approx(120)
    assert shares.share == pytest.approx(0.1)
    assert (shares.high - shares.low > 0.05).all()


@pytest.mark.parametrize(
    ("events", "trials", "reason"),
    [
        ([], [], "fewer_than_two_units"),
        ([1, 0], [3, 0], "fewer_than_two_units"),
        ([0, 0], [5, 6], "no_events"),
        ([5, 6], [5, 6], "only_events"),
    ],
)
def test_what_shows_no_spread_at_all_has_no_prior(events, trials, reason):
    for fit in (fit_by_likelihood, fit_by_moments):
        found = fit(events, trials)

        assert found.reason == reason
        assert (found.mean, found.sd) == (None, None)
        assert np.isnan(shrunken_shares(events, trials, found).share).all()


@pytest.mark.parametrize(
    ("events", "trials"), [([0, 10], [10, 10]), ([0, 1], [1, 1]), ([1, 1], [2, 2])]
)
def test_extreme_counts_still_give_shares_between_0_and_1(events, trials):
    for fit in (fit_by_likelihood, fit_by_moments):
        found = shrunken_shares(events, trials, fit(events, trials))

        inside = np.array([found.low, found.share, found.high])
        assert ((inside >= 0) & (inside <= 1)).all()


@pytest.mark.parametrize(
    ("events", "trials"), [([1], [1, 2]), ([3], [2]), ([-1], [2]), ([0.5], [2]), ([np.nan], [2])]
)
def test_impossible_counts_are_refused(events, trials):
    with pytest.raises(ValueError):
        fit_by_likelihood(events, trials)
