"""Scales with a steady error, against exact binomial and Poisson moments."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analytics.statistics.transforms import (
    anscombe_shares,
    arcsine,
    arcsine_shares,
    log_ratios,
    root_ratios,
    share_of_angle,
    share_of_anscombe,
)


def mean_square(transformed, centre: float, chances: np.ndarray) -> float:
    """Exact mean of z2 over all counts."""
    z = (transformed.values - centre) / transformed.standard_errors
    return float(np.nansum(z**2 * chances))


@pytest.mark.parametrize(
    ("trials", "share", "plain", "anscombes"),
    [(20, 0.05, 1.82, 0.77), (20, 0.1, 1.61, 0.95), (50, 0.1, 1.14, 1.0), (100, 0.3, 1.01, 1.0)],
)
def test_anscombes_angles_keep_their_error_where_plain_ones_do_not(trials, share, plain, anscombes):
    # Derived: summed over every count of the binomial.
    r = np.arange(trials + 1)
    chances, n = stats.binom.pmf(r, trials, share), np.full(trials + 1, trials)

    found = [
        mean_square(scale(r, n), float(arcsine(share)), chances)
        for scale in (arcsine_shares, anscombe_shares)
    ]

    assert found == pytest.approx([plain, anscombes], abs=0.01)


def test_an_angle_gives_back_its_share_and_stays_within_a_quarter_turn():
    shares = np.array([0.0, 0.07, 0.5, 1.0])

    assert share_of_angle(arcsine(shares)) == pytest.approx(shares, abs=1e-15)
    assert list(share_of_angle([-0.3, 2.0])) == [0.0, 1.0]


def test_anscombes_angle_gives_back_events_over_trials():
    events, trials = np.array([0, 3, 20]), np.array([20, 20, 20])

    back = share_of_anscombe(anscombe_shares(events, trials).values, trials)

    assert back == pytest.approx(events / trials, abs=1e-12)
    assert share_of_anscombe(0.0, [20])[0] == 0.0


@pytest.mark.parametrize("scale", [root_ratios, log_ratios])
def test_ratios_of_counts_keep_their_error(scale):
    # Derived: summed over the Poisson counts of 200 expected.
    o = np.arange(1, 500)
    e = np.full(o.shape, 200.0)
    centre = 1.0 if scale is root_ratios else 0.0

    found = mean_square(scale(o, e), centre, stats.poisson.pmf(o, 200))

    assert found == pytest.approx(1.0, abs=0.02)


def test_where_nothing_was_observed_there_is_a_root_and_no_log():
    assert root_ratios([0], [4]).values[0] == 0.0
    assert np.isnan(log_ratios([0], [4]).values[0])
    assert np.isnan(log_ratios([0], [4]).standard_errors[0])


@pytest.mark.parametrize("scale", [arcsine_shares, root_ratios, log_ratios])
def test_of_nothing_there_is_no_value(scale):
    found = scale([0, 1], [0, 4])

    assert list(np.isnan(found.values)) == [True, False]
    assert list(np.isnan(found.standard_errors)) == [True, False]


def test_misuse_is_refused_with_its_value():
    with pytest.raises(ValueError, match="6 of 5"):
        arcsine_shares([6], [5])
    with pytest.raises(ValueError, match="-1 of 5"):
        root_ratios([-1], [5])
    with pytest.raises(ValueError, match=r"\(2,\) and \(1,\)"):
        log_ratios([1, 2], [3])
    assert root_ratios([6], [5]).values[0] == pytest.approx(np.sqrt(1.2))
