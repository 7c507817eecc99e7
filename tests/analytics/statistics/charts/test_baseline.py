"""Which points limits are made from, and how firm that makes them."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.statistics.charts.baseline import Standing, baseline_flags, series, standing_of

POINTS = [1.0, 2.0, np.nan, 4.0, 5.0]


@pytest.mark.parametrize(
    ("baseline", "exclude", "places"),
    [
        (None, (), [0, 1, 3, 4]),
        (2, (), [0, 1]),
        (99, (), [0, 1, 3, 4]),
        (0, (), []),
        (slice(1, 4), (), [1, 3]),
        (slice(-2, None), (), [3, 4]),
        (None, (0, 4), [1, 3]),
    ],
)
def test_a_baseline_is_a_slice_a_number_of_first_points_or_all(baseline, exclude, places):
    flags = baseline_flags(POINTS, baseline, exclude=exclude)

    assert list(np.flatnonzero(flags)) == places


@pytest.mark.parametrize(
    ("points", "standing"),
    [
        (0, Standing.TRIAL),
        (11, Standing.TRIAL),
        (12, Standing.SETTLING),
        (19, Standing.SETTLING),
        (20, Standing.FIRM),
    ],
)
def test_limits_are_on_trial_then_settling_then_firm(points, standing):
    assert standing_of(points) is standing


def test_what_is_not_finite_is_missing():
    assert list(np.isnan(series([1.0, np.inf, -np.inf, np.nan]))) == [False, True, True, True]


def test_misuse_is_refused_with_its_value():
    with pytest.raises(ValueError, match="-1"):
        baseline_flags(POINTS, -1)
    with pytest.raises(ValueError, match="5 among 5"):
        baseline_flags(POINTS, exclude=[5])
    with pytest.raises(ValueError, match=r"\(1, 2\)"):
        series([[1.0, 2.0]])
