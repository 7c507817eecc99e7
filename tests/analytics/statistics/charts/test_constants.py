"""The constants of control charts, against printed tables and simulated normal values."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analytics.statistics.charts.constants import D2, D4, a3, b3, b4, c4

# Montgomery, Introduction to Statistical Quality Control, appendix VI (from memory).
TABLE = {
    2: (0.7979, 2.659, 0.0, 3.267),
    3: (0.8862, 1.954, 0.0, 2.568),
    6: (0.9515, 1.287, 0.030, 1.970),
    10: (0.9727, 0.975, 0.284, 1.716),
    25: (0.9896, 0.606, 0.565, 1.435),
}


@pytest.mark.parametrize("size", TABLE)
def test_the_constants_are_those_of_the_table(size):
    found = float(c4(size)), float(a3(size)), float(b3(size)), float(b4(size))

    assert found[0] == pytest.approx(TABLE[size][0], abs=6e-5)
    assert found[1:] == pytest.approx(TABLE[size][1:], abs=6e-4)


def test_c4_is_its_formula_and_many_sizes_are_taken_at_once():
    # Derived, with the plain gamma function.
    by_hand = [math.sqrt(2 / (n - 1)) * math.gamma(n / 2) / math.gamma((n - 1) / 2) for n in (2, 9)]

    assert c4([2, 9]) == pytest.approx(by_hand, rel=1e-12)
    assert float(c4(5000)) == pytest.approx(1 - 1 / (4 * 5000), abs=1e-7)


def test_a_mean_moving_range_is_d2_standard_deviations_and_its_limit_d4_of_it():
    ranges = np.abs(np.diff(np.random.default_rng(4).normal(size=200_000)))

    mean, sd = ranges.mean(), ranges.std()

    assert mean == pytest.approx(D2, abs=0.01)
    assert (mean + 3 * sd) / mean == pytest.approx(D4, abs=0.02)


def test_a_single_value_is_no_subgroup():
    with pytest.raises(ValueError, match="1"):
        c4([5, 1])
