"""The interval that says what another day could bring."""

from __future__ import annotations

from statistics import NormalDist

import pytest

from registry.caloric.retest import retest_interval


def test_the_interval_reaches_the_two_sided_95_percent_points_of_a_normal_distribution() -> None:
    retests = NormalDist(mu=28.0, sigma=8.16)

    found = retest_interval(28.0, 8.16)

    assert found is not None
    assert found.low == pytest.approx(retests.inv_cdf(0.025), abs=1e-9)
    assert found.high == pytest.approx(retests.inv_cdf(0.975), abs=1e-9)


@pytest.mark.parametrize(("percent", "error"), [(None, 8.0), (28.0, None), (None, None)])
def test_an_undefined_index_or_error_has_no_interval(
    percent: float | None, error: float | None
) -> None:
    assert retest_interval(percent, error) is None
