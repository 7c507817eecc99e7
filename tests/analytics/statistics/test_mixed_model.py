"""Mixed models against closed forms of balanced tables, second libraries and simulated truth."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest
from scipy import optimize
from statsmodels.genmod.bayes_mixed_glm import BinomialBayesMixedGLM
from statsmodels.regression.mixed_linear_model import MixedLM

from analytics.statistics.mixed_model import fit_means, fit_shares


def ones(n: int) -> np.ndarray:
    return np.ones((n, 1))


def uneven(seed: int, *, testers: int = 40, shares: bool = False, tester_sd: float = 0.6):
    """Outcome, fixed columns, tester numbers and the testers' true effects."""
    random = np.random.default_rng(seed)
    tester = np.repeat(np.arange(testers), random.integers(5, 60, testers))
    truth = random.normal(0, tester_sd, testers)
    covariate = random.normal(size=len(tester)) + truth[tester] * 0.5
    level = -1.0 + 0.5 * covariate + truth[tester]
    fixed = np.column_stack([np.ones(len(tester)), covariate])
    if shares:
        return (random.random(len(tester)) < 1 / (1 + np.exp(-level))) * 1.0, fixed, tester, truth
    return level + random.normal(size=len(tester)), fixed, tester, truth


def test_a_balanced_table_gives_the_components_of_its_analysis_of_variance():
    random = np.random.default_rng(1)
    table = random.normal(0, 1, (12, 1)) + random.normal(0, 2, (12, 8))

    found = fit_means(table.ravel(), ones(96), [np.repeat(np.arange(12), 8)])

    within = table.var(axis=1, ddof=1).mean()
    between = table.mean(axis=1).var(ddof=1) - within / 8
    drawn = between / (between + within / 8)
    assert found.residual_sd == pytest.approx(math.sqrt(within), rel=1e-5)
    assert found.sds[0] == pytest.approx(math.sqrt(between), rel=1e-5)
    assert found.coefficients[0] == pytest.approx(table.mean())
    assert found.effects[0] == pytest.approx(drawn * (table.mean(axis=1) - table.mean()), abs=1e-5)


def test_nested_testers_give_the_components_of_the_nested_table():
    random = np.random.default_rng(2)
    table = random.normal(0, 1.5, (10, 1, 1)) + random.normal(0, 1, (10, 4, 1))
    table = table + random.normal(0, 1, (10, 4, 6))
    clinic, tester, _ = np.indices(table.shape).reshape(3, -1)

    found = fit_means(table.ravel(), ones(table.size), [clinic * 4 + tester, clinic])

    within = table.var(axis=2, ddof=1).mean()
    of_testers = table.mean(axis=2).var(axis=1, ddof=1).mean()
    of_clinics = table.mean(axis=(1, 2)).var(ddof=1)
    components = [of_testers - within / 6, of_clinics - of_testers / 4]
    assert found.sds == pytest.approx(np.sqrt(components), rel=1e-5)


def test_crossed_irrigators_give_the_components_of_the_two_way_table():
    random = np.random.default_rng(3)
    table = (
        random.normal(0, 1.2, (9, 1)) + random.normal(0, 0.8, (1, 7)) + random.normal(size=(9, 7))
    )
    tester, irrigator = np.indices(table.shape).reshape(2, -1)

    found = fit_means(table.ravel(), ones(63), [tester, irrigator])

    rows, columns = table.mean(axis=1), table.mean(axis=0)
    left = table - rows[:, None] - columns + table.mean()
    residual = (left**2).sum() / 48
    components = [rows.var(ddof=1) - residual / 7, columns.var(ddof=1) - residual / 9]
    assert found.sds == pytest.approx(np.sqrt(components), rel=1e-5)
    assert found.residual_sd == pytest.approx(math.sqrt(residual), rel=1e-5)


@pytest.mark.parametrize("seed", range(3))
def test_uneven_testers_give_the_fit_of_a_second_library(seed):
    outcome, fixed, tester, _ = uneven(seed)

    found = fit_means(outcome, fixed, [tester])
    second = MixedLM(outcome, fixed, groups=tester).fit(reml=True)

    assert found.coefficients == pytest.approx(second.fe_params, abs=1e-4)
    # Its errors come from a curvature in which the variances take part.
    assert found.coefficient_se == pytest.approx(second.bse_fe, rel=0.01)
    assert found.sds[0] == pytest.approx(math.sqrt(float(np.squeeze(second.cov_re))), rel=1e-3)
    assert found.residual_sd == pytest.approx(math.sqrt(second.scale), rel=1e-4)
    effects = [second.random_effects[number].iloc[0] for number in range(40)]
    assert found.effects[0] == pytest.approx(effects, abs=1e-3)


def test_intervals_of_means_hold_the_truth_nineteen_times_in_twenty():
    held = []
    for seed in range(20):
        outcome, fixed, tester, truth = uneven(seed, testers=50)
        found = fit_means(outcome, fixed, [tester])
        held.append((np.abs(found.effects[0] - truth) < 1.96 * found.effect_se[0]).mean())

    assert np.mean(held) == pytest.approx(0.95, abs=0.025)


def exact_sd(outcome: np.ndarray, fixed: np.ndarray, tester: np.ndarray) -> float:
    """SD between testers by maximum likelihood, the testers integrated out by 20 nodes."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(20)

    def lost(place: np.ndarray) -> float:
        logits = (fixed @ place[:2])[:, None] + math.exp(place[2]) * nodes
        each = outcome[:, None] * logits - np.logaddexp(0, logits)
        together = np.array([np.bincount(tester, column) for column in each.T]).T
        top = together.max(axis=1)
        parts = np.exp(together - top[:, None]) @ (weights / weights.sum())
        return -float((np.log(parts) + top).sum())

    return math.exp(optimize.minimize(lost, [-1.0, 0.5, -1.0], method="BFGS").x[2])


@pytest.mark.parametrize("seed", range(2))
def test_shares_give_nearly_the_exact_likelihood(seed):
    outcome, fixed, tester, _ = uneven(seed, testers=80, shares=True)

    found = fit_shares(outcome, fixed, [tester])

    # Penalised quasi-likelihood draws the SD in a little where testers have few events.
    assert found.sds[0] == pytest.approx(exact_sd(outcome, fixed, tester), rel=0.1)


def test_shares_give_the_effects_of_a_second_library_with_testers_alone():
    outcome, fixed, tester, _ = uneven(3, shares=True)

    found = fit_shares(outcome, fixed, [tester])
    columns = (tester[:, None] == np.arange(40)).astype(float)
    model = BinomialBayesMixedGLM(outcome, fixed, columns, np.zeros(40, int), vcp_p=1, fe_p=2)
    with warnings.catch_warnings():
        # It warns that its own search stopped early, at a gradient that is small enough here.
        warnings.simplefilter("ignore")
        second = model.fit_vb()

    assert found.coefficients == pytest.approx(second.fe_mean, abs=0.1)
    assert np.corrcoef(found.effects[0], second.vc_mean)[0, 1] > 0.995
    assert found.sds[0] == pytest.approx(math.exp(second.vcp_mean[0]), rel=0.15)


def test_shares_find_testers_clinics_and_irrigators_again():
    random = np.random.default_rng(4)
    tester = np.repeat(np.arange(160), 120)
    clinic = tester // 4
    irrigator = clinic * 3 + random.integers(0, 3, len(tester))
    effects = [random.normal(0, sd, n) for sd, n in ((0.4, 160), (0.3, 40), (0.2, 120))]
    logits = -1.5 + effects[0][tester] + effects[1][clinic] + effects[2][irrigator]
    outcome = (random.random(len(tester)) < 1 / (1 + np.exp(-logits))) * 1.0

    found = fit_shares(outcome, ones(len(tester)), [tester, clinic, irrigator])

    assert found.sds == pytest.approx((0.4, 0.3, 0.2), abs=0.08)
    held = np.abs(found.effects[0] - effects[0]) < 1.96 * found.effect_se[0]
    assert held.mean() == pytest.approx(0.95, abs=0.05)


@pytest.mark.parametrize("fit", [fit_means, fit_shares])
def test_without_groupings_it_is_plain_regression(fit):
    outcome, fixed, _, _ = uneven(5, shares=fit is fit_shares)

    found = fit(outcome, fixed, [])

    if fit is fit_means:
        expected = np.linalg.lstsq(fixed, outcome, rcond=None)[0]
    else:
        expected = optimize.minimize(
            lambda b: float(np.logaddexp(0, fixed @ b).sum() - outcome @ (fixed @ b)), [0.0, 0.0]
        ).x
    assert found.coefficients == pytest.approx(expected, abs=1e-4)
    assert (found.effects, found.sds) == ((), ())


@pytest.mark.parametrize("fit", [fit_means, fit_shares])
def test_testers_who_do_not_differ_have_an_sd_near_none(fit):
    random = np.random.default_rng(6)
    tester = np.repeat(np.arange(30), 40)
    outcome = (np.arange(len(tester)) % 4 == 0) * 1.0
    # Every tester has the same share by construction.
    assert set(np.bincount(tester, outcome)) == {10.0}

    found = fit(outcome, np.column_stack([ones(1200), random.normal(size=1200)]), [tester])

    assert found.sds[0] < 0.01
    assert np.abs(found.effects[0]).max() < 0.01


def test_what_does_not_settle_has_no_fit():
    tester = np.repeat(np.arange(3), 2)
    apart = np.array([1.0, 1.0, 1.0, 0.0, 0.0, 0.0])

    assert fit_means(np.ones(6), ones(6), [tester]) is None
    assert fit_means(np.array([1.0, 2.0]), np.eye(2), []) is None
    assert fit_shares(np.zeros(6), ones(6), [tester]) is None
    assert fit_shares(apart, np.column_stack([np.ones(6), apart]), [tester]) is None
