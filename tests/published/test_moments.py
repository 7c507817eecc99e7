"""Merged moments against certified values of NIST's statistical reference data (univariate)."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.statistics.moments import Moments, merge_all, moments
from tests.published.answers import Check, Key, agrees, answers, column, key_of, name_of

METHOD = "mergeable moments (Chan/Pebay), 7 parts"
SETS = ("numacc1", "numacc2", "numacc3", "numacc4", "michelso", "lew", "lottery", "mavro")


def in_seven_parts(name: str) -> Moments:
    return merge_all(moments(part) for part in np.array_split(column(name, "y"), 7))


CHECKS: dict[Key, Check] = {
    (METHOD, f"10_strd_{name}.csv", quantity): (
        lambda name=f"10_strd_{name}.csv", quantity=quantity: getattr(
            in_seven_parts(name), quantity
        )
    )
    for name in SETS
    for quantity in ("mean", "sd")
}
ANSWERS = answers("10")


@pytest.mark.parametrize("row", ANSWERS, ids=name_of)
def test_a_certified_value_comes_out_of_merged_parts(row):
    agrees(row, CHECKS)


def test_every_check_has_its_published_answer():
    assert set(CHECKS) == {key_of(row) for row in ANSWERS}


def test_sums_of_squares_would_have_lost_the_fourth_set():
    # The reason for merging moments: the certified SD is 0.1.
    y = column("10_strd_numacc4.csv", "y")
    by_sums = (np.sum(y**2) - np.sum(y) ** 2 / len(y)) / (len(y) - 1)

    assert abs(by_sums - 0.01) > 0.001
    assert moments(y).variance == pytest.approx(0.01, abs=1e-8)
