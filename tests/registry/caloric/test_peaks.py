"""Beats to peak, method computed_v1."""

from __future__ import annotations

import math
import statistics

import numpy as np
import pytest

from registry.caloric.compute import compute_visit
from registry.caloric.peaks import peak_from_beats
from registry.caloric.visit import Beats
from tests.registry.caloric.building import changed, irrigation, response_beats, steady, visit

SIGNS = {"right_warm": 1, "left_warm": -1, "right_cool": -1, "left_cool": 1}


def peak_of(beats: Beats, level: float = 0.0, **fields):
    one = irrigation("right_warm", None, beats=beats, **fields)
    return peak_from_beats(one, spontaneous_level=level)


def every_second(speeds: dict[range, float]) -> Beats:
    pairs = sorted((float(t), speed) for times, speed in speeds.items() for t in times)
    return Beats(tuple(t for t, _ in pairs), tuple(speed for _, speed in pairs))


def by_hand(beats: Beats, level: float) -> tuple[float, float, float]:
    """The same method in plain Python, straight from its description."""
    n = len(beats.spv)
    kept = []
    for place, (time, speed) in enumerate(zip(beats.time_s, beats.spv, strict=True)):
        start = min(max(place - 3, 0), n - 7)
        seven = beats.spv[start : start + 7]
        middle = statistics.median(seven)
        mad = statistics.median(abs(x - middle) for x in seven)
        if abs(speed - middle) <= (3 * 1.4826 * mad or 1.0):
            kept.append((time, speed))
    best = None
    for centre in range(30, 121):
        window = [speed for time, speed in kept if abs(time - centre) <= 5]
        if len(window) >= 5:
            mean = statistics.fmean(window)
            if best is None or abs(mean - level) > best[0] + 1e-9:
                se = statistics.stdev(window) / math.sqrt(len(window))
                best = (abs(mean - level), mean, se, centre)
    assert best is not None
    return best[1:]


@pytest.mark.parametrize("level", [0.0, 6.0, -4.0])
@pytest.mark.parametrize("seed", range(8))
def test_the_peak_agrees_with_the_method_written_out_in_plain_python(seed, level):
    generator = np.random.default_rng(seed)
    times = np.cumsum(generator.uniform(0.35, 1.0, 220))
    speeds = 5 + 22 * np.exp(-(((times - 75) / 40) ** 2)) * generator.normal(1, 0.15, 220)
    speeds[generator.random(220) < 0.05] *= 3
    beats = Beats(tuple(times.tolist()), tuple(speeds.tolist()))

    found = peak_of(beats, level)

    expected = by_hand(beats, level)
    actual = (found.peak_spv, found.se, found.culmination_time_s)
    assert actual == pytest.approx(expected, rel=1e-9)


def test_the_window_at_the_culmination_is_taken():
    found = peak_of(every_second({range(10, 70): 10.0, range(70, 81): 30.0, range(81, 150): 12.0}))

    assert found.peak_spv == pytest.approx(30)
    assert found.culmination_time_s == 75
    assert found.se == 0
    assert found.reason is None


def test_the_ends_of_a_window_belong_to_it():
    beats = every_second({range(70, 81): 30.0})

    found = peak_of(beats)

    assert found.kept_beats == 11
    # Windows centred at 69 to 81 hold five beats or more; all means are alike, so the earliest.
    assert found.culmination_time_s == 69


@pytest.mark.parametrize(("first", "is_there"), [(20, False), (21, True)])
def test_no_window_is_centred_before_30_s(first, is_there):
    # Five beats, a second apart; a window centred at 30 s reaches back to 25 s.
    found = peak_of(every_second({range(first, first + 5): 20.0}))
    reached = peak_of(every_second({range(first + 4, first + 9): 20.0}))

    assert found.peak_spv is None
    assert (reached.peak_spv is not None) is is_there


@pytest.mark.parametrize(("first", "is_there"), [(121, True), (122, False)])
def test_no_window_is_centred_after_120_s(first, is_there):
    found = peak_of(every_second({range(first, first + 5): 20.0}))

    assert (found.peak_spv is not None) is is_there


@pytest.mark.parametrize(("count", "reason"), [(4, "too_few_beats"), (5, None)])
def test_a_window_needs_five_kept_beats(count, reason):
    found = peak_of(every_second({range(70, 70 + count): 20.0}))

    assert found.reason == reason
    assert (found.peak_spv is None) is (reason is not None)
    assert found.kept_beats == count


def test_no_beats_at_all_give_no_peak_and_the_reason():
    assert peak_of(Beats((), ())).reason == "too_few_beats"
    assert peak_from_beats(irrigation("right_warm"), spontaneous_level=0.0) is None


def test_beats_during_fixation_are_left_out():
    beats = every_second({range(30, 120): 20.0})

    found = peak_of(beats, fixation_from_s=100.0, fixation_to_s=110.0)

    assert found.kept_beats == 90 - 11


def test_an_artefact_is_rejected_and_its_honest_neighbours_are_kept():
    speeds = [20.0 + (place % 3) for place in range(60)]
    speeds[30] = 120.0
    found = peak_of(Beats(tuple(40.0 + t for t in range(60)), tuple(speeds)))

    assert found.kept_beats == 59
    assert found.peak_spv < 23


@pytest.mark.parametrize(("speed", "kept"), [(21.0, 60), (21.01, 59), (18.99, 59)])
def test_among_equal_beats_one_within_a_step_of_1_deg_per_s_is_kept(speed, kept):
    speeds = [20.0] * 60
    speeds[30] = speed

    found = peak_of(Beats(tuple(40.0 + t for t in range(60)), tuple(speeds)))

    assert found.kept_beats == kept


def test_a_weak_ear_is_not_hidden_by_a_spontaneous_nystagmus():
    # The response of 4 against a level of 6 shows as beats of 2 at the culmination; by plain
    # magnitude the level itself would win.
    beats = every_second({range(10, 70): 6.0, range(70, 81): 2.0, range(81, 150): 6.0})

    assert peak_of(beats, level=6.0).peak_spv == pytest.approx(2)
    assert peak_of(beats, level=0.0).peak_spv == pytest.approx(6)


def with_beats(true: dict[str, float], spontaneous: float):
    sent = visit(spontaneous=steady(spontaneous))
    for cell, peak in true.items():
        beats = response_beats(peak, baseline=SIGNS[cell] * spontaneous)
        sent = changed(sent, cell, peak_spv=None, beats=beats)
    return sent


@pytest.mark.parametrize("spontaneous", [-12.0, -6.0, 3.0, 6.0, 12.0])
@pytest.mark.parametrize(
    "true",
    [
        {"right_warm": 24.0, "left_warm": 22.0, "right_cool": 18.0, "left_cool": 20.0},
        {"right_warm": 8.0, "left_warm": 16.0, "right_cool": 6.0, "left_cool": 12.0},
        {"right_warm": 1.0, "left_warm": 25.0, "right_cool": 1.0, "left_cool": 19.0},
    ],
)
def test_a_nystagmus_added_to_all_beats_moves_the_weakness_by_less_than_a_point(true, spontaneous):
    still = compute_visit(with_beats(true, 0.0)).indices
    beating = compute_visit(with_beats(true, spontaneous)).indices

    moved = beating.unilateral_weakness_percent - still.unilateral_weakness_percent
    assert abs(moved) < 1
    assert beating.gain_asymmetry_percent == pytest.approx(still.gain_asymmetry_percent, abs=1)


def test_a_missing_peak_is_filled_in_and_says_its_basis():
    sent = changed(visit(), "right_warm", peak_spv=None, beats=response_beats(30.0))

    computed = compute_visit(sent)

    filled, kept = computed.visit.irrigations[0], computed.visit.irrigations[1]
    assert filled.peak_spv == pytest.approx(30, abs=1)
    assert filled.peak_basis == "computed_v1"
    assert (kept.peak_spv, kept.peak_basis) == (20.0, None)
    assert computed.responses[0].culmination_time_s == pytest.approx(75, abs=3)
    assert computed.responses[1].reason == "no_beats"


def test_a_peak_that_was_sent_is_not_replaced_by_its_beats():
    sent = changed(
        visit(), "right_warm", peak_spv=33.0, peak_basis="fitted", beats=response_beats(20.0)
    )

    computed = compute_visit(sent)

    assert computed.visit.irrigations[0].peak_spv == 33
    assert computed.visit.irrigations[0].peak_basis == "fitted"
    assert computed.responses[0].computed_peak_spv == pytest.approx(20, abs=1)


def test_too_few_beats_leave_the_cell_missing_with_a_reason():
    sent = changed(visit(), "right_warm", peak_spv=None, beats=response_beats(20.0, step=30.0))

    computed = compute_visit(sent)

    assert computed.indices.undefined_reason == "missing_irrigation"
    assert computed.responses[0].reason == "too_few_beats"
    assert computed.protocol_done == "bithermal"


def test_an_earlier_attempt_counts_where_a_repeat_has_too_few_beats():
    repeat = irrigation("right_warm", None, attempt=2, beats=response_beats(20.0, step=30.0))

    computed = compute_visit(visit(*visit().irrigations, repeat))

    assert next(one.name for one in computed.responses if one.counts) == "right_warm_1"
    assert computed.indices.total_spv == 80
    assert not any(one.counts for one in computed.responses if one.peak_spv is None)


def test_beats_no_eye_can_follow_give_no_peak():
    # Peaks lie within 200 deg/s (the range of what may be sent; common practice, no source).
    assert peak_of(response_beats(199.0)).reason is None
    assert peak_of(response_beats(300.0)).reason == "beats_too_fast"


def test_the_spread_of_the_beats_reaches_the_weakness():
    sent = with_beats(dict.fromkeys(SIGNS, 20.0), 0.0)

    computed = compute_visit(sent)

    errors = [one.se for one in computed.responses]
    assert all(error > 0 for error in errors)
    assert computed.indices.unilateral_weakness_se_within_response > 0
    assert (
        computed.indices.unilateral_weakness_se_within_response
        < computed.indices.unilateral_weakness_se_retest
    )


RISE = {range(10, 70): 0.0, range(70, 81): 8.0, range(81, 150): 0.0}
DIP = {range(10, 70): 6.0, range(70, 81): 2.0, range(81, 150): 6.0}


@pytest.mark.parametrize(
    ("fields", "beats", "peak"),
    [
        # Removed from the peaks is removed from the beats: what is left starts at 0.
        ({"spontaneous": steady(6.0, "removed")}, RISE, 8.0),
        # Magnitudes without a direction: a signed level would mean nothing beside them.
        ({"spontaneous": steady(6.0), "sign_convention": "unsigned"}, RISE, 8.0),
        ({"spontaneous": steady(6.0)}, DIP, 2.0),
        ({"spontaneous": None}, DIP, 6.0),
    ],
)
def test_the_level_that_a_response_is_measured_from_is_what_its_beats_still_hold(
    fields, beats, peak
):
    sent = changed(visit(**fields), "right_warm", peak_spv=None, beats=every_second(beats))

    assert compute_visit(sent).visit.irrigations[0].peak_spv == pytest.approx(peak)


def test_the_level_just_before_an_irrigation_goes_before_that_of_the_visit():
    sent = changed(
        visit(spontaneous=steady(0.0)),
        "right_warm",
        peak_spv=None,
        beats=every_second(DIP),
        baseline_spv=6.0,
    )

    assert compute_visit(sent).visit.irrigations[0].peak_spv == pytest.approx(2)
