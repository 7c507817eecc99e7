"""Error of measurement: by the same tester and by any, against plain numpy and simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analytics.statistics.anova import one_way
from analytics.statistics.repeatability import errors_apart, within_subject

TESTERS, REPEATS = 3, 2


def network(subjects: int, seed: int, *, of_testers: float = 2.0) -> tuple[np.ndarray, ...]:
    """Every subject tested twice by each of three testers; the error of a repeat is 1."""
    random = np.random.default_rng(seed)
    values = random.normal(0, 5, (subjects, 1, 1))
    values = values + random.normal(0, of_testers, (subjects, TESTERS, 1))
    values = values + random.normal(0, 1, (subjects, TESTERS, REPEATS))
    places = np.indices(values.shape).reshape(3, -1)
    return values.ravel() + 50, places[0], places[1]


def test_the_error_is_the_root_of_the_mean_variance_of_equal_repeats():
    values, subjects, _ = network(10, 1)

    found = within_subject(values, subjects)

    variances = values.reshape(10, 6).var(axis=1, ddof=1)
    assert found.sd == pytest.approx(math.sqrt(variances.mean()))
    assert found.smallest_change == pytest.approx(1.959964 * math.sqrt(2) * found.sd)
    assert (found.subjects, found.values, found.df) == (10, 60, 50)


def test_its_interval_is_that_of_chi_square():
    # 83.298 and 40.482 are the 2.5 % points of 60 degrees of freedom (tables, from memory).
    found = within_subject(np.random.default_rng(2).normal(size=80), np.repeat(np.arange(20), 4))

    assert found.sd_low == pytest.approx(found.sd * math.sqrt(60 / 83.298), rel=1e-4)
    assert found.sd_high == pytest.approx(found.sd * math.sqrt(60 / 40.482), rel=1e-4)


def test_repeats_of_one_subject_are_enough():
    assert within_subject([1.0, 2.0, 3.0], ["a", "a", "a"]).sd == pytest.approx(1.0)


def test_a_subject_tested_once_adds_nothing():
    found = within_subject([1.0, 2.0, 9.0], ["a", "a", "b"])

    assert found.sd == pytest.approx(math.sqrt(0.5))
    assert found.df == 1


def test_on_the_log_scale_the_smallest_change_is_a_ratio():
    values, subjects, _ = network(10, 3)

    found = within_subject(values, subjects, log_scale=True)
    plain = within_subject(np.log(values), subjects)

    assert found.sd == pytest.approx(plain.sd)
    assert found.smallest_change == pytest.approx(math.exp(plain.smallest_change))


def test_same_tester_and_any_tester_are_kept_apart():
    values, subjects, testers = network(400, 4)

    found = errors_apart(values, subjects, testers)

    assert found.same_tester.sd == pytest.approx(1.0, rel=0.06)
    assert found.tester_sd == pytest.approx(2.0, rel=0.08)
    assert found.any_tester.sd == pytest.approx(math.sqrt(5.0), rel=0.08)


def test_balanced_errors_are_those_of_the_nested_table_of_variance():
    values, subjects, testers = network(8, 5)

    found = errors_apart(values, subjects, testers)

    table = values.reshape(8, TESTERS, REPEATS)
    repeat = table.var(axis=2, ddof=1).mean()
    between = table.mean(axis=2).var(axis=1, ddof=1).mean() - repeat / REPEATS
    assert found.same_tester.sd == pytest.approx(math.sqrt(repeat))
    assert found.any_tester.sd == pytest.approx(math.sqrt(repeat + between))
    assert found.tester_sd == pytest.approx(math.sqrt(between))


def test_the_interval_of_any_tester_holds_the_truth_nineteen_times_in_twenty():
    held = [
        errors_apart(*network(15, seed)).any_tester.sd_low
        <= math.sqrt(5.0)
        <= errors_apart(*network(15, seed)).any_tester.sd_high
        for seed in range(200)
    ]

    # Three standard errors of 95 % over 200 rounds are 4.6 %.
    assert np.mean(held) == pytest.approx(0.95, abs=0.047)


def test_uneven_repeats_count_by_their_common_size():
    values, subjects, testers = network(6, 6)
    # Of each subject one tester keeps both repeats, the others lose theirs by turns.
    kept = np.arange(len(values)) % 5 != 3

    found = errors_apart(values[kept], subjects[kept], testers[kept])

    # Of one subject alone the nested table is a one-way table of its testers.
    alone = kept & (subjects == 0)
    single = errors_apart(values[alone], subjects[alone], testers[alone])
    table = one_way(values[alone], testers[alone])
    between = max(0.0, (table.between_ms - table.within_ms) / table.common_size)
    assert single.tester_sd == pytest.approx(math.sqrt(between))
    assert found.any_tester.sd >= found.same_tester.sd


def test_other_testers_without_repeats_of_their_own_still_give_the_error_of_any():
    values, subjects, testers = network(50, 8)
    first = np.arange(len(values)) % REPEATS == 0

    found = errors_apart(values[first], subjects[first], testers[first])

    assert found.same_tester.reason == "no_repeats"
    assert found.tester_sd is None
    assert found.any_tester.sd == pytest.approx(within_subject(values[first], subjects[first]).sd)


def test_repeats_by_one_tester_say_nothing_of_others():
    found = errors_apart([1.0, 2.0, 3.0, 5.0], [1, 1, 2, 2], ["a", "a", "b", "b"])

    assert found.same_tester.sd is not None
    assert found.any_tester.reason == "no_other_tester"
    assert found.tester_sd is None


def test_testers_who_agree_add_nothing():
    found = errors_apart([1.0, 3.0, 1.0, 3.0], [1, 1, 1, 1], ["a", "a", "b", "b"])

    assert found.tester_sd == 0.0
    assert found.any_tester.sd == found.same_tester.sd


@pytest.mark.parametrize("values", [[], [1.0], [np.nan, np.nan]])
def test_without_repeats_there_is_no_error_to_give(values):
    found = errors_apart(values, np.arange(len(values)), np.arange(len(values)))

    assert found.same_tester.reason == "no_repeats"
    assert found.any_tester.reason == "no_other_tester"
    assert found.same_tester.smallest_change is None


def test_a_response_of_the_wrong_direction_has_no_logarithm():
    found = errors_apart([1.0, -2.0, 3.0], [1, 1, 1], [1, 1, 2], log_scale=True)

    assert found.same_tester.reason == found.any_tester.reason == "values_not_positive"


def test_equal_repeats_have_no_error():
    assert within_subject([2.0, 2.0, 3.0, 3.0], [1, 1, 2, 2]).sd == 0.0


def test_lengths_that_differ_are_refused():
    with pytest.raises(ValueError, match="2 values with"):
        errors_apart([1.0, 2.0], [1, 1], [1])
