"""Over-dispersion: the consistency factor, the test, both estimates, and pooling."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from analytics.statistics.overdispersion import (
    assess_overdispersion,
    between_variance,
    consistency_factor,
    pooled_effect,
    random_effects,
    winsorised,
)


@pytest.mark.parametrize("share", [0.02, 0.1, 0.25])
def test_the_consistency_factor_is_the_mean_square_of_winsorised_normal_values(share):
    # Derived; the reference by numerical integration.
    c = stats.norm.ppf(1 - share)

    integral, _ = integrate.quad(
        lambda z: min(abs(z), c) ** 2 * stats.norm.pdf(z), -9, 9, points=[-c, c]
    )

    assert consistency_factor(share) == pytest.approx(integral, rel=1e-9)


def test_the_consistency_factor_of_the_outer_tenths_is_679_thousandths():
    assert consistency_factor() == pytest.approx(0.679, abs=5e-4)
    assert consistency_factor(0.0) == 1.0


def test_winsorising_puts_the_outer_tenths_onto_the_quantiles():
    # scipy's trims by whole counts: with 101 values the quantiles are values themselves.
    z = np.random.default_rng(3).permutation(np.arange(101.0))

    found = winsorised(z)

    assert found == pytest.approx(np.asarray(stats.mstats.winsorize(z, limits=(10.5 / 101,) * 2)))
    assert (found.min(), found.max()) == (10.0, 90.0)
    assert winsorised([]).size == 0


def assessed(rng, units: int, tau: float, **options):
    s = rng.uniform(0.5, 2.0, units)
    y = rng.normal(0, np.hypot(tau, s))
    centre = np.average(y, weights=1 / s**2)
    return assess_overdispersion((y - centre) / s, s, **options)


def test_without_over_dispersion_phi_is_one_and_the_test_keeps_its_level():
    rng = np.random.default_rng(11)

    found = [assessed(rng, 40, 0.0) for _ in range(300)]

    # I phi is I - 1 on average round an estimated target.
    assert np.mean([each.phi for each in found]) == pytest.approx(39 / 40, abs=0.03)
    assert np.mean([each.p_value < 0.05 for each in found]) == pytest.approx(0.05, abs=0.035)


def test_tau_comes_back_on_average():
    rng = np.random.default_rng(12)

    found = [assessed(rng, 40, 1.0) for _ in range(300)]

    assert np.mean([each.tau2 for each in found]) == pytest.approx(1.0, abs=0.1)


def test_a_few_far_off_units_do_not_make_the_others_over_dispersed():
    s = np.ones(50)
    z = stats.norm.ppf((np.arange(50) + 0.5) / 50)
    z[-2:] = 30.0

    found = assess_overdispersion(z, s)

    assert found.p_value < 1e-9
    assert found.phi == pytest.approx(1.0, abs=0.1)
    assert found.tau2 < 0.1
    assert between_variance(found.statistic, s) > 30


def test_the_test_is_that_of_chi_squared_and_a_fixed_target_costs_no_degree_of_freedom():
    z, s = np.array([1.0, -2.0, 0.5, 1.5]), np.ones(4)

    estimated = assess_overdispersion(z, s)
    fixed = assess_overdispersion(z, s, target_estimated=False)

    assert (estimated.statistic, estimated.df, fixed.df) == (7.5, 3, 4)
    assert estimated.p_value == pytest.approx(stats.chi2.sf(7.5, 3))
    assert fixed.p_value == pytest.approx(stats.chi2.sf(7.5, 4))


def test_round_a_fixed_target_the_spread_is_taken_from_all_units():
    # Derived: the mean of (sum of z2) is I + tau2 W.
    s = np.array([1.0, 0.5, 0.25])

    assert between_variance(45.0, s, target_estimated=False) == pytest.approx(42 / 21)
    assert between_variance(45.0, s) == pytest.approx(43 / (21 - (1 + 16 + 256) / 21))
    assert between_variance(1.0, s) == 0.0


def test_the_test_may_look_at_another_scale():
    z, s = np.full(5, 3.0), np.ones(5)

    found = assess_overdispersion(z, s, test_z=np.full(5, 0.1))

    assert found.statistic == pytest.approx(0.05)
    assert found.phi == pytest.approx(9 / consistency_factor())


@pytest.mark.parametrize("z", [[], [1.0], [np.nan, 1.0]])
def test_fewer_than_two_units_tell_nothing(z):
    found = assess_overdispersion(z, np.ones(len(z)))

    assert found.units == np.isfinite(z).sum()
    assert (found.statistic, found.p_value, found.phi, found.tau2) == (None,) * 4
    assert random_effects(z, np.ones(len(z))) is None


def test_without_units_there_is_no_mean():
    assert pooled_effect([], []) is None
    assert pooled_effect([np.nan], [1.0]) is None


def test_units_that_agree_have_no_variance_between_them():
    found = random_effects([2.0, 2.0, 2.0], [1.0, 1.0, 1.0])

    assert (found.q, found.tau2) == (0.0, 0.0)
    assert found.fixed == found.random
    assert found.fixed.se == pytest.approx(3**-0.5)


def test_misuse_is_refused_with_its_value():
    with pytest.raises(ValueError, match="0"):
        assess_overdispersion([1.0, 2.0], [1.0, 0.0])
    with pytest.raises(ValueError, match=r"\(2,\)"):
        pooled_effect([1.0, 2.0], [1.0])
    with pytest.raises(ValueError, match=r"0\.5"):
        consistency_factor(0.5)
