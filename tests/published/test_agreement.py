"""Limits of agreement, error of measurement and intraclass correlation of the classic papers."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest
from scipy import stats

from analytics.statistics.agreement import limits_of_agreement, tolerance_factor
from analytics.statistics.intraclass import AGREEMENT, CONSISTENCY, ONE_WAY, intraclass_correlation
from analytics.statistics.repeatability import within_subject
from tests.published.answers import Check, Key, agrees, answers, column, key_of, name_of

FLOW = "05_bland_altman_1986_pefr.csv"
CHILDREN = "05_bland_altman_1996_children_pefr.csv"
JUDGES = "05_shrout_fleiss_1979.csv"
LIMITS = "Bland-Altman limits of agreement"
UNROUNDED = "Bland-Altman, 1.96 s unrounded"
# The t of sixteen degrees of freedom that the paper gives as 2.12.
T_16 = float(stats.t.ppf(0.975, 16))
ERROR = "within-subject SD (SEM) and repeatability"
FOUND = limits_of_agreement(
    column(FLOW, "wright1"), column(FLOW, "mini1"), intervals="approximate", multiplier=2.0
)
EXACT = limits_of_agreement(column(FLOW, "wright1"), column(FLOW, "mini1"))
REPEATS = np.column_stack([column(CHILDREN, f"m{at}") for at in (1, 2, 3, 4)])
TABLE = np.column_stack([column(JUDGES, f"judge{at}") for at in (1, 2, 3, 4)])
CORRELATION = intraclass_correlation(TABLE)
CHILD_ERROR = within_subject(REPEATS, np.repeat(np.arange(20), 4))
# Means and SDs of the first sixteen rows of the paper's table 1, read at a reprint.
PRINTED_MEANS = [
    *(202.50, 222.50, 260.00, 263.75, 271.25, 276.25, 280.00, 282.50),
    *(290.00, 300.00, 302.50, 305.00, 327.50, 341.25, 343.75, 343.75),
]
PRINTED_SDS = [
    *(12.58, 17.08, 16.33, 38.60, 6.29, 4.79, 16.33, 15.00),
    *(8.16, 14.14, 5.00, 55.08, 5.00, 23.58, 18.87, 17.02),
]


def as_the_paper_rounds(side: int, end: int = 0) -> float:
    """A limit, or an end of its interval: the paper rounds to one decimal before it goes on."""
    limit = round(FOUND.bias.value, 1) + side * 2 * round(FOUND.sd, 1)
    error = round((FOUND.lower.high - FOUND.lower.value) / T_16, 1)
    return limit + end * T_16 * error


def of_children(which: str) -> float:
    if which == "mean":
        return float(np.abs(REPEATS[:16].mean(axis=1) - PRINTED_MEANS).max())
    sds = [within_subject(repeats, [0] * 4).sd for repeats in REPEATS[:16]]
    return float(np.abs(np.array(sds) - PRINTED_SDS).max())


def coefficient(form: str, averaged: bool) -> float | None:
    return CORRELATION.coefficient(form, averaged=averaged).value


CHECKS: dict[Key, Check] = {
    (LIMITS, FLOW, "mean difference"): lambda: FOUND.bias.value,
    (LIMITS, FLOW, "SD of differences"): lambda: FOUND.sd,
    (LIMITS, FLOW, "lower limit d-2s"): lambda: FOUND.lower.value,
    (LIMITS, FLOW, "upper limit d+2s"): lambda: as_the_paper_rounds(1),
    (LIMITS, FLOW, "SE of mean"): lambda: FOUND.sd / FOUND.pairs**0.5,
    (LIMITS, FLOW, "bias CI low"): lambda: FOUND.bias.low,
    (LIMITS, FLOW, "bias CI high"): lambda: FOUND.bias.high,
    (LIMITS, FLOW, "SE of limit sqrt(3s2/n)"): (
        lambda: (FOUND.lower.high - FOUND.lower.value) / T_16
    ),
    (LIMITS, FLOW, "lower-limit CI low"): lambda: as_the_paper_rounds(-1, -1),
    (LIMITS, FLOW, "lower-limit CI high"): lambda: as_the_paper_rounds(-1, 1),
    (LIMITS, FLOW, "upper-limit CI low"): lambda: as_the_paper_rounds(1, -1),
    (LIMITS, FLOW, "upper-limit CI high"): lambda: as_the_paper_rounds(1, 1),
    (UNROUNDED, FLOW, "lower"): lambda: EXACT.lower.value,
    (UNROUNDED, FLOW, "upper"): lambda: EXACT.upper.value,
    ("ICC", JUDGES, "ICC(2,1) unrounded"): lambda: coefficient(AGREEMENT, False),
    ("ICC ANOVA table", JUDGES, "BMS"): lambda: CORRELATION.squares.between,
    ("ICC ANOVA table", JUDGES, "WMS"): lambda: CORRELATION.squares.within,
    ("ICC ANOVA table", JUDGES, "JMS"): lambda: CORRELATION.squares.judge,
    ("ICC ANOVA table", JUDGES, "EMS"): lambda: CORRELATION.squares.residual,
    (ERROR, CHILDREN, "max |child mean - printed| children 1-16"): lambda: of_children("mean"),
    (ERROR, CHILDREN, "max |child SD - printed| children 1-16"): lambda: of_children("SD"),
    (ERROR, CHILDREN, "residual mean square"): lambda: CHILD_ERROR.sd**2,
    (ERROR, CHILDREN, "s_w"): lambda: CHILD_ERROR.sd,
    ("minimal detectable change = 2.77 s_w", CHILDREN, "repeatability"): (
        lambda: CHILD_ERROR.smallest_change
    ),
}
CHECKS |= {
    ("ICC", JUDGES, f"ICC({number},{judges})"): partial(coefficient, form, judges == 4)
    for number, form in enumerate((ONE_WAY, AGREEMENT, CONSISTENCY), start=1)
    for judges in (1, 4)
}
ANSWERS = answers("05")


@pytest.mark.parametrize("row", ANSWERS, ids=name_of)
def test_a_published_answer_comes_out(row):
    agrees(row, CHECKS)


def test_every_check_has_its_published_answer():
    assert set(CHECKS) == {key_of(row) for row in ANSWERS}


def test_the_thirty_pairs_of_giavarina_give_their_bias_and_limits():
    # Computed once elsewhere on the published data, no published figure.
    data = [column("05_giavarina_2015.csv", name) for name in ("method_a", "method_b")]

    found = limits_of_agreement(*data, multiplier=1.96)

    assert found.bias.value == pytest.approx(-27.1667, abs=6e-5)
    assert found.sd == pytest.approx(34.8059, abs=6e-5)
    assert found.lower.value == pytest.approx(-95.386, abs=6e-4)
    assert found.upper.value == pytest.approx(41.053, abs=6e-4)


@pytest.mark.parametrize(
    ("n", "factor"), [(2, 36.519), (5, 5.077), (10, 3.393), (20, 2.760), (50, 2.382), (100, 2.234)]
)
def test_tolerance_factors_of_pairs_are_those_of_the_tables(n, factor):
    # Exact two-sided factors, 95 % of all with 95 % confidence (Odeh & Owen, from memory).
    assert tolerance_factor(n, confidence=0.95) == pytest.approx(factor, abs=6e-4)
