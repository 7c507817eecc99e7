"""Funnels of shares and of means: which limits are chosen, what they hold, and the edges."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analytics.statistics.adjustment import Adjustment, Because, choose_adjustment
from analytics.statistics.funnel import mean_funnel, proportion_funnel
from analytics.statistics.overdispersion import Overdispersion


def found(units: int, p_value: float | None, tau2: float | None) -> Overdispersion:
    return Overdispersion(units, units - 1, 1.0, p_value, 1.5, tau2)


@pytest.mark.parametrize(
    ("units", "p_value", "tau2", "adjustment", "because"),
    [
        (10, 0.049, 0.1, Adjustment.ADDITIVE, Because.SIGNIFICANT),
        (9, 0.001, 0.1, Adjustment.NONE, Because.FEW_UNITS),
        (10, 0.05, 0.1, Adjustment.NONE, Because.NOT_SIGNIFICANT),
        (10, 0.001, 0.0, Adjustment.NONE, Because.ONLY_A_FEW_DIFFER),
        (1, None, None, Adjustment.NONE, Because.NOT_MEASURED),
    ],
)
def test_limits_are_widened_for_ten_units_that_differ_significantly(
    units, p_value, tau2, adjustment, because
):
    assert choose_adjustment(found(units, p_value, tau2)) == (adjustment, because)


def test_what_is_asked_for_is_done_where_it_can_be():
    asked = Adjustment.MULTIPLICATIVE

    assert choose_adjustment(found(3, 0.9, 0.0), asked) == (asked, Because.ASKED_FOR)
    assert choose_adjustment(found(1, None, None), asked) == (
        Adjustment.NONE,
        Because.NOT_MEASURED,
    )


def simulated(rng, *, units: int, share: float, tau: float, sizes: tuple[int, int]):
    n = rng.integers(*sizes, units)
    angle = np.arcsin(np.sqrt(share)) + rng.normal(0, tau, units)
    return proportion_funnel(rng.binomial(n, np.sin(angle) ** 2), n)


@pytest.mark.parametrize("sizes", [(15, 40), (50, 300)])
@pytest.mark.parametrize("tau", [0.0, 0.06])
def test_honest_units_are_outside_no_more_often_than_announced(sizes, tau):
    rng = np.random.default_rng(31)

    funnels = [simulated(rng, units=100, share=0.05, tau=tau, sizes=sizes) for _ in range(40)]
    inner = np.mean([np.sum(each.outside_inner != 0) for each in funnels])
    outer = np.mean([np.sum(each.outside_outer != 0) for each in funnels])
    adjusted = np.mean([each.adjustment is Adjustment.ADDITIVE for each in funnels])

    # 40 funnels of 100: about 200 marks of the inner kind are expected, 8 of the outer.
    assert inner == pytest.approx(np.mean([each.chance_inner for each in funnels]), abs=1.5)
    assert outer == pytest.approx(np.mean([each.chance_outer for each in funnels]), abs=0.25)
    assert adjusted <= 0.15 if tau == 0 else adjusted >= 0.5


def test_the_additive_lines_let_in_the_variance_between_units():
    rng = np.random.default_rng(32)
    n = rng.integers(100, 900, 150)
    r = rng.binomial(n, np.sin(np.arcsin(np.sqrt(0.2)) + rng.normal(0, 0.08, 150)) ** 2)

    funnel = proportion_funnel(r, n)

    tau2 = funnel.overdispersion.tau2
    assert funnel.because is Because.SIGNIFICANT
    assert tau2**0.5 == pytest.approx(0.08, abs=0.015)
    # Derived: Anscombe's angle of a share on the line lies z deviations from that of the target.
    for share, z in (
        (funnel.at_units.outer.upper, 3.090232),
        (funnel.at_units.inner.lower, -1.959964),
    ):
        angle = np.arcsin(np.sqrt((share * n + 0.375) / (n + 0.75)))
        apart = angle - np.arcsin(np.sqrt(r.sum() / n.sum()))
        assert apart == pytest.approx(z * np.sqrt(1 / (4 * n + 2) + tau2), rel=1e-6)


def test_multiplicative_lines_are_the_normal_ones_times_root_phi():
    rng = np.random.default_rng(33)
    n = rng.integers(100, 400, 30)
    r = rng.binomial(n, rng.uniform(0.1, 0.5, 30))

    funnel = proportion_funnel(r, n, adjustment=Adjustment.MULTIPLICATIVE)

    p, phi = r.sum() / n.sum(), funnel.overdispersion.phi
    reach = stats.norm.ppf(0.975) * np.sqrt(phi * p * (1 - p) / n)
    assert phi > 2
    assert funnel.at_units.inner.upper == pytest.approx(np.minimum(p + reach, 1))
    assert funnel.at_units.inner.lower == pytest.approx(np.maximum(p - reach, 0))


def test_phi_below_one_narrows_nothing():
    r, n = np.full(12, 20), np.full(12, 100)

    plain, asked = (
        proportion_funnel(r, n, adjustment=adjustment)
        for adjustment in (Adjustment.NONE, Adjustment.MULTIPLICATIVE)
    )

    assert asked.overdispersion.phi < 0.01
    assert asked.at_units.inner.upper == pytest.approx(np.full(12, 0.2 + 1.959964 * 0.04), rel=1e-6)
    assert plain.at_units.inner.upper == pytest.approx(asked.at_units.inner.upper, abs=0.01)


def test_chance_marks_are_those_of_the_binomial_itself():
    n = np.array([20, 35, 120])

    funnel = proportion_funnel([2, 4, 12], n, target=0.1, adjustment=Adjustment.NONE)

    # By listing every count, instead of by its formula.
    marks = 0.0
    for size, low, high in zip(
        n, funnel.at_units.inner.lower, funnel.at_units.inner.upper, strict=True
    ):
        for count in range(size + 1):
            if count / size < low or count / size > high:
                marks += stats.binom.pmf(count, size, 0.1)
    assert funnel.chance_inner == pytest.approx(marks, rel=1e-9)


def test_a_unit_under_the_minimum_counts_in_the_target_and_is_not_judged():
    funnel = proportion_funnel([1, 10, 30], [10, 11, 60], minimum=11)

    assert funnel.target == pytest.approx(41 / 81)
    assert list(funnel.judged) == [False, True, True]
    assert np.isnan(funnel.values[0])
    assert np.isnan(funnel.at_units.inner.lower[0])
    assert funnel.outside_outer[0] == 0
    assert funnel.overdispersion.units == 2


def test_the_curve_passes_through_the_limits_of_the_units():
    n = np.array([12, 40, 41, 300])

    funnel = proportion_funnel([1, 4, 4, 30], n, adjustment=Adjustment.NONE)

    assert (funnel.curve.sizes[0], funnel.curve.sizes[-1]) == (12, 300)
    assert len(funnel.curve.sizes) <= 100
    assert funnel.curve.outer.upper[0] == funnel.at_units.outer.upper[0]
    assert funnel.curve.inner.lower[-1] == funnel.at_units.inner.lower[-1]


@pytest.mark.parametrize(
    ("events", "trials", "target"), [([], [], None), ([0, 0], [0, 0], None), ([0], [0], 0.2)]
)
def test_without_trials_there_is_an_empty_funnel(events, trials, target):
    funnel = proportion_funnel(events, trials, target=target)

    assert funnel.target == target
    assert not funnel.judged.any()
    assert funnel.because is Because.NOT_MEASURED
    assert funnel.curve.sizes.size == 0
    assert (funnel.chance_inner, funnel.chance_outer) == (0.0, 0.0)


@pytest.mark.parametrize("share", [0, 1])
def test_units_without_any_event_or_with_nothing_else_are_all_within(share):
    funnel = proportion_funnel([20 * share] * 12, [20] * 12)

    assert funnel.target == share
    assert funnel.because is Because.NOT_MEASURED
    assert not funnel.outside_inner.any()


def test_a_single_unit_has_limits_only_round_a_target_that_is_given():
    alone = proportion_funnel([9], [20])
    judged = proportion_funnel([9], [20], target=0.1)

    assert alone.outside_outer[0] == 0
    assert judged.outside_outer[0] == 1


def test_means_are_held_to_limits_round_the_weighted_mean():
    y, s, n = np.array([1.0, 2.0, 4.0]), np.array([0.5, 0.25, 1.0]), np.array([16, 64, 4])

    funnel = mean_funnel(y, s, n)

    centre = np.average(y, weights=1 / s**2)
    assert funnel.target == pytest.approx(centre)
    assert funnel.because is Because.FEW_UNITS
    assert funnel.at_units.outer.upper == pytest.approx(centre + stats.norm.ppf(0.999) * s)
    assert funnel.at_units.inner.lower == pytest.approx(centre - stats.norm.ppf(0.975) * s)
    # One SD of 2 stands behind all three errors, so the curve passes through them.
    assert funnel.curve.inner.upper[0] == pytest.approx(funnel.at_units.inner.upper[2])
    assert funnel.curve.inner.upper[-1] == pytest.approx(funnel.at_units.inner.upper[1])


def test_the_curve_of_means_shows_the_sd_pooled_over_units():
    # Two SDs, 1 of 5 values and 3 of 21: the pooled variance is (4 x 1 + 20 x 9) / 24.
    funnel = mean_funnel([7.0, 7.0], [1 / 5**0.5, 3 / 21**0.5], [5, 21])

    reach = funnel.curve.inner.upper - 7.0
    assert reach == pytest.approx(
        stats.norm.ppf(0.975) * (184 / 24) ** 0.5 / np.sqrt(funnel.curve.sizes)
    )


def test_means_that_differ_have_their_variance_added():
    rng = np.random.default_rng(34)
    s = rng.uniform(0.3, 0.9, 200)
    funnel = mean_funnel(rng.normal(10, np.hypot(1.0, s)), s, np.full(200, 30))

    reach = funnel.at_units.inner.upper - funnel.target

    assert funnel.because is Because.SIGNIFICANT
    assert funnel.overdispersion.tau2 == pytest.approx(1.0, abs=0.3)
    assert reach == pytest.approx(
        stats.norm.ppf(0.975) * np.sqrt(s**2 + funnel.overdispersion.tau2)
    )
    assert np.sum(funnel.outside_inner != 0) == pytest.approx(funnel.chance_inner, abs=8)


def test_asked_for_phi_multiplies_the_variance_of_means():
    y, s, n = np.array([0.0, 4.0, -4.0, 3.0]), np.ones(4), np.full(4, 9)

    funnel = mean_funnel(y, s, n, target=0.0, adjustment=Adjustment.MULTIPLICATIVE)

    assert funnel.at_units.inner.upper == pytest.approx(
        np.full(4, stats.norm.ppf(0.975) * funnel.overdispersion.phi**0.5)
    )


@pytest.mark.parametrize(
    ("value", "error", "size"), [(np.nan, 1.0, 9), (1.0, np.nan, 9), (1.0, 0.0, 9), (1.0, 1.0, 1)]
)
def test_a_mean_that_says_nothing_is_not_judged(value, error, size):
    funnel = mean_funnel([5.0, value, 6.0], [1.0, error, 1.0], [4, size, 4])

    assert list(funnel.judged) == [True, False, True]
    assert funnel.target == 5.5
    assert np.isnan(funnel.values[1])
    assert funnel.outside_inner[1] == 0


def test_without_means_there_is_an_empty_funnel():
    funnel = mean_funnel([np.nan], [1.0], [5])

    assert funnel.target is None
    assert funnel.because is Because.NOT_MEASURED
    assert np.isnan(funnel.at_units.outer.upper[0])
    assert funnel.curve.sizes.size == 0


def test_misuse_is_refused_with_its_value():
    with pytest.raises(ValueError, match="6 of 5"):
        proportion_funnel([6], [5])
    with pytest.raises(ValueError, match="nan of 5"):
        proportion_funnel([np.nan], [5])
    with pytest.raises(ValueError, match="-5"):
        proportion_funnel([0], [-5])
    with pytest.raises(ValueError, match=r"1\.2"):
        proportion_funnel([1], [5], target=1.2)
    with pytest.raises(ValueError, match="nan"):
        mean_funnel([1.0], [1.0], [5], target=float("nan"))
    with pytest.raises(ValueError, match=r"\(2,\)"):
        mean_funnel([1.0, 2.0], [1.0], [5])
