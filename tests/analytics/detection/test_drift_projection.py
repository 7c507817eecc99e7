"""Slope and day of leaving the tolerance. Sources: derived; coverage simulated."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.detection.drift_projection import project
from analytics.detection.drift_statistic import DAYS_PER_MONTH
from analytics.simulation.irrigators import draw_readings

WEEK = DAYS_PER_MONTH / 4


def test_a_straight_line_without_noise_is_found_exactly():
    days = np.arange(16) * WEEK
    months = days / DAYS_PER_MONTH

    found = project(days, 0.1 * months, noise=0.1, tolerance=0.5)

    assert found.slope.per_month == pytest.approx(0.1, abs=1e-9)
    assert found.slope.level == pytest.approx(0.1 * months[-1], abs=1e-9)
    assert found.leaving.day == pytest.approx(5 * DAYS_PER_MONTH, abs=1e-6)
    assert found.leaving.earliest < found.leaving.day
    assert found.leaving.latest is None or found.leaving.latest > found.leaving.day


def test_the_slope_is_that_of_statsmodels_generalised_least_squares():
    statsmodels = pytest.importorskip("statsmodels.api")
    rng = np.random.default_rng(3)
    days = np.sort(rng.uniform(0, 100, 20))
    value = 0.002 * days + rng.normal(0, 0.05, 20)
    months = np.abs(days[:, None] - days[None, :]) / DAYS_PER_MONTH
    spread = 0.1**2 * np.eye(20) + 0.03**2 * 0.5**months
    design = statsmodels.add_constant((days - days[-1]) / DAYS_PER_MONTH)
    theirs = statsmodels.GLS(value, design, sigma=spread).fit(cov_type="nonrobust")

    ours = project(days, value, noise=0.1, tolerance=0.5).slope

    assert [ours.level, ours.per_month] == pytest.approx(theirs.params.tolist(), abs=1e-9)
    half = 1.959963984540054 * np.sqrt(theirs.normalized_cov_params[1, 1])
    assert ours.high - ours.per_month == pytest.approx(half, abs=1e-9)


@pytest.mark.parametrize(
    ("slope", "start", "reason"),
    [(0.0, 0.0, "flat"), (0.2, 0.5, "already_outside"), (-0.2, -0.5, "already_outside")],
)
def test_no_day_is_named_where_there_is_none_to_name(slope, start, reason):
    days = np.arange(16) * WEEK

    found = project(days, start + slope * days / DAYS_PER_MONTH, noise=0.1, tolerance=0.5)

    assert found.leaving.day is None
    assert found.leaving.reason == reason


def test_only_the_last_four_months_are_fitted():
    days = np.arange(64) * WEEK
    rising = np.clip(days / DAYS_PER_MONTH - 12, 0, None) * 0.1

    found = project(days, rising, noise=0.1, tolerance=0.5)

    assert found.slope.readings == 16
    assert found.slope.per_month == pytest.approx(0.1, abs=1e-3)


@pytest.mark.parametrize(
    ("days", "reason"), [([1.0, 2.0, 3.0], "too_few_readings"), ([1.0] * 5, "all_at_one_time")]
)
def test_too_little_to_fit_gives_the_reason(days, reason):
    found = project(np.array(days), np.zeros(len(days)), noise=0.1, tolerance=0.5)

    assert (found.slope.reason, found.leaving.reason) == (reason, reason)
    assert found.slope.per_month is None


def test_the_interval_of_the_day_holds_the_true_one_in_nine_of_ten():
    # A steady drift from four months before: leaving at month 5, seen at month 3.5.
    rng = np.random.default_rng(8)
    days = np.arange(16) * WEEK
    readings = draw_readings(rng, days, 200) + 0.1 * days / DAYS_PER_MONTH

    found = [project(days, row, noise=0.1, tolerance=0.5).leaving for row in readings]

    named = [one for one in found if one.day is not None]
    true = 5 * DAYS_PER_MONTH
    held = [one.earliest <= true and (one.latest is None or true <= one.latest) for one in named]
    assert len(named) > 150
    assert np.mean(held) > 0.9
