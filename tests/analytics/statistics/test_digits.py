"""Last digits of readings: counted for any resolution, held against even writing."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
import pytest
from scipy import stats

from analytics.statistics.digits import DigitCounts, count_digits, digit_preference

TEN = tuple(range(10))


@pytest.mark.parametrize(
    ("step", "digits"),
    [
        ("1", TEN),
        ("0.1", TEN),
        ("10", TEN),
        ("0.5", (0, 5)),
        ("5", (0, 5)),
        ("2", (0, 2, 4, 6, 8)),
        ("0.2", (0, 2, 4, 6, 8)),
        ("0.25", (0, 25, 50, 75)),
        (Decimal("1.0"), TEN),
    ],
)
def test_a_resolution_has_its_own_last_digits(step, digits):
    found = count_digits([], step=step)

    assert found.digits == digits
    assert found.counts == (0,) * len(digits)


def test_digits_never_written_are_counted_as_never():
    assert count_digits([10, 20, 25, 31]).counts == (2, 1, 0, 0, 0, 1, 0, 0, 0, 0)


def test_decimals_are_read_as_they_were_written():
    # 0.3 and 2.7 are no multiples of 0.1 in binary.
    assert count_digits([0.3, 2.7, 33.3, 30.0], step="0.1").counts == (1, 0, 0, 2, 0, 0, 0, 1, 0, 0)


def test_quarters_are_counted_by_their_hundredths():
    assert count_digits([1.25, 2.5, 3.0, 7.75, 8.25], step="0.25").counts == (1, 2, 1, 1)


def test_the_sign_is_left_aside():
    assert count_digits([-12.0, 12.0]).counts[2] == 2


def test_values_off_the_grid_and_missing_ones_are_told_apart():
    found = count_digits([1.0, 1.4, np.nan, np.inf], step="0.5")

    assert (found.off_grid, found.missing, sum(found.counts)) == (1, 2, 1)


def test_the_score_follows_from_chi_square_of_even_counts():
    counts = (30, 5, 12, 8, 9, 25, 11, 7, 10, 3)
    n = sum(counts)

    found = digit_preference(DigitCounts(TEN, counts))

    chi_square = sum((count - n / 10) ** 2 / (n / 10) for count in counts)
    assert found.chi_square == pytest.approx(chi_square)
    assert found.p_value == pytest.approx(stats.chi2.sf(chi_square, 9))
    assert found.score == pytest.approx(100 * math.sqrt(chi_square / (9 * n)))
    assert found.zero_five_index == pytest.approx((55 / n) / 0.2 * 100)


@pytest.mark.parametrize("digits", [TEN, (0, 2, 4, 6, 8), (0, 5)])
def test_the_score_runs_from_none_to_one_digit_alone(digits):
    even = digit_preference(DigitCounts(digits, (20,) * len(digits)))
    alone = digit_preference(DigitCounts(digits, (50,) + (0,) * (len(digits) - 1)))

    assert even.score == 0.0
    assert alone.score == pytest.approx(100.0)


def test_even_writing_passes_its_chance_score_once_in_twenty_times():
    random = np.random.default_rng(1)
    rounds = random.multinomial(200, [0.1] * 10, size=400)
    found = [digit_preference(DigitCounts(TEN, tuple(counts.tolist()))) for counts in rounds]

    beyond = np.mean([each.score > each.score_by_chance for each in found])

    # Three standard errors of 5 % over 400 rounds are 3.3 %.
    assert beyond == pytest.approx(0.05, abs=0.033)


def test_a_quarter_written_as_fives_and_zeros_shows_in_the_index():
    # By construction: a quarter of 1000 values on 0 and 5, the rest even.
    counts = tuple(75 + (125 if digit in (0, 5) else 0) for digit in TEN)

    assert digit_preference(DigitCounts(TEN, counts)).zero_five_index == pytest.approx(200.0)


@pytest.mark.parametrize(
    ("digits", "counts", "index"),
    [
        ((0, 2, 4, 6, 8), (4, 4, 4, 4, 4), 100.0),
        ((0, 2, 4, 6, 8), (20, 0, 0, 0, 0), 500.0),
        ((0, 25, 50, 75), (5, 5, 5, 5), 100.0),
        ((0, 5), (9, 1), None),
    ],
)
def test_the_index_counts_zeros_and_fives_where_others_are_possible(digits, counts, index):
    found = digit_preference(DigitCounts(digits, counts)).zero_five_index

    assert found == (None if index is None else pytest.approx(index))


def test_too_few_of_each_digit_have_a_score_and_no_p_value():
    few = digit_preference(DigitCounts(TEN, (4, 5, 5, 5, 5, 5, 5, 5, 5, 5)))
    enough = digit_preference(DigitCounts(TEN, (5,) * 10))

    assert few.p_value is None
    assert few.score is not None
    assert enough.p_value == 1.0


@pytest.mark.parametrize(
    ("counts", "reason"),
    [(DigitCounts(TEN, (0,) * 10), "no_values"), (DigitCounts((0,), (7,)), "one_digit_only")],
)
def test_without_values_or_choice_there_is_no_preference(counts, reason):
    found = digit_preference(counts)

    assert found.reason == reason
    assert (found.score, found.p_value, found.zero_five_index) == (None, None, None)


@pytest.mark.parametrize("step", ["0", "-1", "3", "0.3", "nan"])
def test_a_step_that_makes_no_digits_is_refused(step):
    with pytest.raises(ValueError, match="step"):
        count_digits([1.0], step=step)


@pytest.mark.parametrize("counts", [(1, 2), (1,) * 9 + (-1,)])
def test_counts_that_make_no_sense_are_refused(counts):
    with pytest.raises(ValueError, match="counts"):
        digit_preference(DigitCounts(TEN, counts))
