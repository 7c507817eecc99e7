"""Drift of an irrigator. Figures: derived, or simulated with a fixed seed; none published."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.detection.drift import irrigator_drift, month_means
from analytics.detection.drift_limits import EXPECTED, LIMITS, limit_at, smoothing_weight
from analytics.detection.drift_statistic import DAYS_PER_MONTH, smooth
from analytics.simulation.irrigators import drift_study, simulate_limit

WEEK = DAYS_PER_MONTH / 4


def steady(count: int, seed: int = 1) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    return np.arange(count) * WEEK, np.round(rng.normal(0.0, 0.1, count), 2)


def drifting(seed: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """A year steady, then four months of 0.1 Cel a month, weekly."""
    days, deviation = steady(64, seed)
    return days, deviation + np.clip(days / DAYS_PER_MONTH - 12, 0, None) * 0.1


def test_a_steady_irrigator_has_not_changed():
    drift = irrigator_drift(*steady(100))

    assert not drift.changed
    assert drift.signals == ()
    assert drift.readings_per_month == pytest.approx(4.0)
    assert drift.noise == pytest.approx(0.1, abs=0.02)
    assert drift.reason is None


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_a_drift_is_seen_before_the_tolerance_is_left(way):
    days, deviation = drifting()

    drift = irrigator_drift(days, way * deviation)

    (signal,) = drift.signals
    assert drift.changed
    assert signal.rule == "moving_average"
    assert 12 * DAYS_PER_MONTH < signal.day < 15.5 * DAYS_PER_MONTH
    assert abs(signal.value - signal.usual) > signal.limit
    assert way * (signal.value - signal.usual) > 0
    assert drift.course.beyond[signal.place]
    assert not drift.course.beyond[: signal.place].any()


def test_an_adjustment_restarts_the_comparison_and_keeps_the_old_signal():
    days, deviation = drifting()
    after, good = steady(20, seed=4)
    adjusted = days[-1] + 1.0

    drift = irrigator_drift(
        np.concatenate([days, adjusted + after]),
        np.concatenate([deviation, good]),
        restarts=[adjusted],
    )

    assert len(drift.signals) == 1
    assert not drift.changed
    assert drift.readings == 20
    assert drift.since == adjusted


def test_without_the_adjustment_the_same_readings_are_one_time():
    days, deviation = drifting()
    after, good = steady(20, seed=4)

    drift = irrigator_drift(
        np.concatenate([days, days[-1] + 1.0 + after]), np.concatenate([deviation, good])
    )

    assert drift.changed
    assert drift.readings == 84


def test_the_moving_average_is_the_plain_recursion_with_its_weights_adding_up_to_one():
    days, deviation = steady(12, seed=3)

    found = smooth(
        deviation[None, :], days, thermometer=np.zeros(12, np.int64), weight=0.2, expected=EXPECTED
    )

    # Second way: the recursion from 0, divided by the weight it has gathered.
    average = gathered = 0.0
    for value in deviation:
        average = 0.2 * value + 0.8 * average
        gathered = 0.2 + 0.8 * gathered
    assert found.average[0, -1] == pytest.approx(average / gathered, abs=1e-12)
    assert found.own_mean[0, -1] == pytest.approx(deviation.mean(), abs=1e-12)


def test_the_standard_error_is_what_a_simulation_gives():
    rng = np.random.default_rng(5)
    days = np.arange(24) * WEEK
    months = np.abs(days[:, None] - days[None, :]) / DAYS_PER_MONTH
    covariance = 0.03**2 * 0.5**months + 0.1**2 * np.eye(24)
    readings = rng.multivariate_normal(np.zeros(24), covariance, 4000)

    found = smooth(
        readings, days, thermometer=np.zeros(24, np.int64), weight=0.2, expected=EXPECTED
    )

    # Noise estimated from each row makes it a little wider than one.
    assert np.std(found.distance()[:, -1]) == pytest.approx(1.0, abs=0.06)


def test_one_slip_of_the_pen_is_no_drift_and_a_step_that_stays_is_a_change():
    days, deviation = steady(60)
    slip, step = deviation.copy(), deviation.copy()
    slip[40] += 3.0
    step[40:] += 0.45

    assert not irrigator_drift(days, slip).changed
    assert irrigator_drift(days, step).signals[0].place <= 44


def test_a_new_thermometer_that_reads_higher_is_not_a_drift():
    days, deviation = steady(80)
    thermometer = (np.arange(80) >= 40).astype(int)

    told = irrigator_drift(days, deviation + 0.25 * thermometer, thermometer)
    untold = irrigator_drift(days, deviation + 0.25 * thermometer)

    assert not told.changed
    assert untold.changed
    assert told.thermometer_differences[0].reason == "not_used_in_turn"


def test_two_thermometers_used_in_turn_show_their_difference():
    days, deviation = drifting()
    thermometer = (np.arange(64) % 3 == 0).astype(int)

    drift = irrigator_drift(days, deviation + 0.3 * thermometer, thermometer)

    (found,) = drift.thermometer_differences
    assert (found.one, found.other) == (0, 1)
    assert found.low < 0.3 < found.high
    assert found.high - found.low < 0.2
    assert found.differs
    assert [one.readings for one in drift.thermometers] == [42, 22]


def test_a_drift_is_not_laid_on_the_thermometer_used_more_of_late():
    days = np.arange(60) * WEEK
    thermometer = (np.arange(60) >= 30).astype(int)
    thermometer[[5, 40]] = 1 - thermometer[[5, 40]]

    drift = irrigator_drift(days, 0.04 * days / DAYS_PER_MONTH, thermometer)

    assert drift.thermometer_differences[0].difference == pytest.approx(0.0, abs=1e-6)


def test_thermometers_that_agree_do_not_differ():
    days, deviation = steady(64)

    drift = irrigator_drift(days, deviation, np.arange(64) % 2)

    assert not drift.thermometer_differences[0].differs
    assert drift.thermometer_differences[0].low < 0 < drift.thermometer_differences[0].high


@pytest.mark.parametrize(("level", "changed"), [(0.60, True), (0.36, False)])
def test_a_months_mean_beyond_its_limit_needs_no_past(level, changed):
    # Four readings: 0.30 + 3 x 0.1 / 2 = 0.45 Cel (derived).
    drift = irrigator_drift([0.0, 7.0, 14.0, 21.0], [level, level - 0.05, level + 0.05, level])

    assert drift.changed == changed
    assert [one.rule for one in drift.signals] == ["month_mean"] * changed


def test_a_months_mean_holds_the_readings_of_that_month_only():
    days = np.array([0.0, 20.0, 25.0, 60.0])

    mean, limit = month_means(np.array([[0.1, 0.2, 0.3, 0.9]]), days, np.full((1, 4), 0.1))

    assert mean[0, 1:3] == pytest.approx([0.15, 0.2])
    assert np.isnan(mean[0, [0, 3]]).all()
    assert limit[0, 2] == pytest.approx(0.30 + 0.3 / np.sqrt(3))


def test_one_reading_does_not_speak_for_a_month():
    days = np.array([0.0, 10.0])

    mean, _ = month_means(np.array([[0.0, 3.0], [3.0, -0.1]]), days, np.full((2, 2), 0.1))

    # Pulled in to 0.4 Cel from the smaller of the two.
    assert mean[:, 1] == pytest.approx([0.2, 0.1])


def test_whole_degrees_are_told():
    days, deviation = steady(30)

    coarse = irrigator_drift(days, np.round(deviation))
    fine = irrigator_drift(days, deviation)

    assert (coarse.whole_degrees, coarse.read_coarsely) == (True, True)
    assert (fine.whole_degrees, fine.read_coarsely) == (False, False)
    assert coarse.noise == pytest.approx(1 / np.sqrt(12))


@pytest.mark.parametrize(
    ("days", "deviation"),
    [
        ([], []),
        ([1.0], [0.2]),
        ([1.0, 2.0], [np.nan, np.nan]),
        ([5.0] * 10, [0.1] * 10),
        (list(range(10)), [0.0] * 10),
    ],
)
def test_little_or_equal_readings_give_no_figure_that_is_not_finite(days, deviation):
    drift = irrigator_drift(days, deviation)

    figures = [drift.noise, drift.mean, drift.readings_per_month, drift.projection.slope.low]
    assert all(figure is None or np.isfinite(figure) for figure in figures)
    assert not drift.changed
    assert drift.projection.leaving.day is None
    assert drift.projection.leaving.reason is not None


def test_a_reading_that_is_missing_is_passed_over():
    days, deviation = steady(30)
    with_gap = np.insert(deviation, 10, np.nan)

    drift = irrigator_drift(np.insert(days, 10, days[9]), with_gap)

    assert drift.readings == 30
    assert np.isnan(drift.course.average[10])
    assert np.isfinite(drift.course.average[11])


@pytest.mark.parametrize(
    ("days", "deviation", "tolerance", "said"),
    [
        ([2.0, 1.0], [0.0, 0.0], 0.5, "in order"),
        ([1.0], [0.0, 0.0], 0.5, "shapes differ"),
        ([1.0], [0.0], 0.0, "tolerance"),
    ],
)
def test_misuse_is_refused(days, deviation, tolerance, said):
    with pytest.raises(ValueError, match=said):
        irrigator_drift(days, deviation, tolerance=tolerance)


def test_the_weight_and_the_limit_follow_the_rate():
    assert [smoothing_weight(rate) for rate in (1, 2, 4, 8, 20)] == [0.3, 0.3, 0.2, 0.2, 0.1]
    assert limit_at(0.5) == LIMITS[0][1]
    assert limit_at(40) == LIMITS[-1][1]
    assert LIMITS[0][1] < limit_at(1.4) < LIMITS[1][1]
    with pytest.raises(ValueError, match="above 0"):
        limit_at(0)


@pytest.mark.parametrize(("rate", "limit"), LIMITS[:2])
def test_the_shipped_limits_are_what_their_simulation_gives(rate, limit):
    # 6,000 series: about 48 beyond the limit, so the limit is known to about 0.05.
    assert simulate_limit(int(rate), seed=11, series=6000) == pytest.approx(limit, abs=0.2)


def test_drift_is_found_earlier_than_by_waiting_for_one_reading_out_of_tolerance():
    # Waiting finds 36, 60, 83, 98 % with 1, 2, 4, 8 checks (simulated elsewhere and confirmed by
    # algebra: the first from the normal distribution at the last two readings).
    one, two = drift_study(rates=(1, 2), seed=2, irrigators=400)

    assert one.found_waiting == pytest.approx(0.36, abs=0.08)
    assert two.found_waiting == pytest.approx(0.60, abs=0.08)
    assert one.found > 0.77
    assert two.found > 0.94
    assert one.false_per_100_irrigator_years < 1.5


def test_whole_degrees_take_most_of_the_power():
    (fine,) = drift_study(rates=(2,), seed=2, irrigators=200)
    (coarse,) = drift_study(rates=(2,), seed=2, irrigators=200, step=1.0)

    assert coarse.found < fine.found / 2
