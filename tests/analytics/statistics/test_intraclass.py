"""Intraclass correlation against a second library (as an oracle only) and at its edges."""

from __future__ import annotations

import warnings

import numpy as np
import pandas as pd
import pytest

from analytics.statistics.intraclass import (
    AGREEMENT,
    CONSISTENCY,
    ONE_WAY,
    intraclass_correlation,
)

# The oracle's names since its version 0.7.
NAMES = {ONE_WAY: "ICC(1,{})", AGREEMENT: "ICC(A,{})", CONSISTENCY: "ICC(C,{})"}


def judged(targets: int, judges: int, seed: int, *, spread: float = 2.0) -> np.ndarray:
    random = np.random.default_rng(seed)
    table = random.normal(0, spread, (targets, 1)) + random.normal(0, 1, (1, judges))
    return table + random.normal(0, 1, (targets, judges))


def by_the_oracle(table: np.ndarray) -> pd.DataFrame:
    with warnings.catch_warnings():
        # Its imports and plots warn of things that are none of ours.
        warnings.simplefilter("ignore")
        oracle = pytest.importorskip("pingouin")
        long = pd.DataFrame(table).reset_index().melt(id_vars="index")
        found = oracle.intraclass_corr(long, targets="index", raters="variable", ratings="value")
    return found.set_index("Type")


@pytest.mark.parametrize(("targets", "judges", "seed"), [(12, 2, 1), (20, 5, 2), (6, 4, 3)])
def test_six_coefficients_and_their_intervals_are_those_of_a_second_library(targets, judges, seed):
    table = judged(targets, judges, seed)

    found, second = intraclass_correlation(table), by_the_oracle(table)

    assert len(found.coefficients) == 6
    for each in found.coefficients:
        row = second.loc[NAMES[each.form].format("k" if each.averaged else 1)]
        assert each.value == pytest.approx(row["ICC"], abs=1e-8)
        # Its intervals are rounded to two decimals.
        assert [each.low, each.high] == pytest.approx(list(row["CI95"]), abs=0.0051)


def test_the_interval_of_agreement_holds_the_truth_nineteen_times_in_twenty():
    truth, held = 4.0 / 6.0, []
    for seed in range(300):
        found = intraclass_correlation(judged(15, 4, seed)).coefficient(AGREEMENT)
        held.append(found.low <= truth <= found.high)

    # Three standard errors of 95 % over 300 rounds are 3.8 %; the method is approximate.
    assert np.mean(held) == pytest.approx(0.95, abs=0.04)


def test_a_target_with_a_missing_value_is_left_out_and_counted():
    table = judged(8, 3, 4)
    with_a_gap = np.vstack([table, [1.0, np.nan, 2.0]])

    found = intraclass_correlation(with_a_gap)

    assert found.incomplete == 1
    assert found.coefficients == intraclass_correlation(table).coefficients


def test_a_large_constant_changes_nothing():
    table = judged(8, 3, 5)

    near, far = intraclass_correlation(table), intraclass_correlation(table + 1e7)

    assert far.coefficient(AGREEMENT).value == pytest.approx(
        near.coefficient(AGREEMENT).value, rel=1e-6
    )


@pytest.mark.parametrize(
    ("table", "reason"),
    [
        (np.empty((0, 3)), "too_few_targets"),
        ([[1.0, 2.0]], "too_few_targets"),
        ([[1.0], [2.0], [3.0]], "one_judge"),
        ([[0.1, 0.1], [0.1, 0.1], [0.1, 0.1]], "targets_are_equal"),
        ([[1.0, 2.0], [2.0, 1.0]], "targets_are_equal"),
        ([[1.0, 2.0], [2.0, 3.0], [5.0, 6.0]], "no_residual"),
    ],
)
def test_what_has_no_coefficient_says_why(table, reason):
    found = intraclass_correlation(table)

    assert found.reason == reason
    assert found.coefficients == ()
    assert found.coefficient(AGREEMENT) is None


def test_judges_who_differ_more_than_targets_give_no_figure_that_is_none():
    random = np.random.default_rng(6)
    for _ in range(50):
        table = random.normal(size=(3, 3)) + random.normal(0, 5, (1, 3))
        for each in intraclass_correlation(table).coefficients:
            figures = [value for value in (each.value, each.low, each.high) if value is not None]
            assert np.isfinite(figures).all()


def test_a_flat_list_is_refused():
    with pytest.raises(ValueError, match="shape"):
        intraclass_correlation([1.0, 2.0])
