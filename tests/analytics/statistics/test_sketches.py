"""Quantile sketches: within their stated error of the exact quantiles, merged and stored."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.statistics.sketches import QuantileSketch, merge_sketches

SHARES = [0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99]


def ranks(values: np.ndarray, found: list[float]) -> np.ndarray:
    return np.array([(values <= each).mean() for each in found])


def test_a_few_values_are_kept_and_answered_exactly():
    values = np.random.default_rng(1).normal(size=150)

    sketch = QuantileSketch(values)

    exact = [np.quantile(values, share, method="inverted_cdf") for share in SHARES]
    assert sketch.rank_error == 0.0
    assert sketch.quantiles(SHARES) == exact
    assert sketch.rank(float(np.median(values))) == pytest.approx(0.5, abs=0.01)


def test_many_merged_parts_answer_within_the_stated_error_of_rank():
    random = np.random.default_rng(2)
    parts = [random.gamma(2.0, size=1000) for _ in range(50)]

    together = merge_sketches(QuantileSketch(part) for part in parts)

    values = np.concatenate(parts)
    assert together.n == 50000
    assert together.rank_error == pytest.approx(0.0133, abs=1e-4)
    # Twice the error that 99 of 100 answers keep to, since the sketch draws lots.
    away = ranks(values, together.quantiles(SHARES)) - SHARES
    assert np.abs(away).max() < 2 * together.rank_error


def test_merging_leaves_the_parts_as_they_were():
    one, other = QuantileSketch([1.0, 2.0]), QuantileSketch([3.0])

    together = merge_sketches([one, other])

    assert (one.n, other.n, together.n) == (2, 1, 3)
    assert together.quantiles([0.0, 0.5, 1.0]) == [1.0, 2.0, 3.0]


def test_a_sketch_comes_back_from_its_bytes():
    sketch = QuantileSketch(np.random.default_rng(3).normal(size=5000))

    back = QuantileSketch.from_bytes(sketch.to_bytes())

    assert back.n == 5000
    assert back.quantiles(SHARES) == sketch.quantiles(SHARES)
    assert len(sketch.to_bytes()) < 6000


def test_a_larger_k_promises_a_smaller_error():
    values = np.arange(20000.0)

    assert QuantileSketch(values, k=800).rank_error == pytest.approx(0.00345, abs=1e-5)


def test_missing_values_are_left_out_and_of_none_nothing_is_told():
    empty = QuantileSketch([np.nan])

    assert empty.n == 0
    assert empty.quantiles([0.5]) is None
    assert empty.rank(1.0) is None
    assert QuantileSketch.from_bytes(empty.to_bytes()).n == 0


@pytest.mark.parametrize("content", [b"", b"abc", b"\0" * 64])
def test_other_bytes_are_refused(content):
    with pytest.raises(ValueError, match="no sketch"):
        QuantileSketch.from_bytes(content)


def test_cut_off_bytes_are_refused():
    whole = QuantileSketch(np.arange(3000.0)).to_bytes()

    with pytest.raises(ValueError, match="no sketch"):
        QuantileSketch.from_bytes(whole[:-8])


def test_what_makes_no_sense_is_refused():
    with pytest.raises(ValueError, match="not 2"):
        QuantileSketch([1.0]).quantiles([2])
    with pytest.raises(ValueError, match="not 7"):
        QuantileSketch(k=7)
