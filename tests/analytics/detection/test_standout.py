"""Visits whose record stands out. Figures: derived, or simulated with a fixed seed."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from analytics.detection.standout import REASONS, stand_out
from analytics.detection.standout_features import (
    RETEST_VARIANCE,
    Visits,
    contrasts,
    in_retest_errors,
    responses,
)
from analytics.detection.standout_reference import Reference, fit_reference
from analytics.simulation.standouts import draw_visits, standout_study, with_fault
from registry.caloric.formulas import HANDLING_NOT_REMOVED, HANDLING_REMOVED, HANDLING_UNKNOWN


@pytest.fixture(scope="module")
def reference() -> Reference:
    return fit_reference(draw_visits(np.random.default_rng(1), 6000).visits)


def visits(*peaks, spontaneous=0.0, handling=HANDLING_NOT_REMOVED, **columns) -> Visits:
    count = len(peaks)
    four = np.array(peaks, np.float64).reshape(count, 4)
    plain = {
        "peaks": four,
        "spontaneous": np.full(count, spontaneous, np.float64),
        "handling": np.full(count, handling),
        "medium": np.full(count, "air"),
        "peak_basis": np.full(count, "mean_10s"),
        "fixation": np.full((count, 4), np.nan),
        "fixation_index": np.full(count, np.nan),
    }
    return Visits(**{**plain, **columns})


def codes(reference, *peaks, **columns) -> list[str]:
    (one,) = stand_out(visits(*peaks, **columns), reference)
    return [reason.code for reason in one.reasons]


@pytest.mark.parametrize(
    "peaks",
    [
        [30.0, 22.0, 28.0, 21.0],
        [30.0, 22.0, 6.0, 4.5],
        [30.0, 22.0, 0.4, -0.3],
        [2.0, 1.0, 1.5, 0.4],
        [0.0, 0.0, 0.0, 0.0],
    ],
)
def test_equal_ears_a_weak_ear_a_silent_ear_and_two_weak_ears_do_not_stand_out(reference, peaks):
    assert codes(reference, peaks) == []


@pytest.mark.parametrize(
    ("peaks", "cell", "factor"),
    [
        ([300.0, 22.0, 28.0, 21.0], "right_warm", 10.0),
        ([30.0, 2.2, 28.0, 21.0], "right_cool", 0.1),
        ([30.0, 22.0, 2.8, 21.0], "left_warm", 0.1),
        ([30.0, 22.0, 28.0, 210.0], "left_cool", 10.0),
    ],
)
def test_a_decimal_slip_is_named_with_its_cell_and_factor(reference, peaks, cell, factor):
    (one,) = stand_out(visits(peaks), reference)

    odd = next(reason for reason in one.reasons if reason.code == "single_odd_response")
    assert odd.detail == cell
    assert odd.value == pytest.approx(factor, rel=0.35)
    assert not odd.low <= odd.value <= odd.high
    assert one.distance > one.limit


def test_a_sign_turned_in_one_cell_stands_out(reference):
    assert codes(reference, [30.0, -22.0, 28.0, 21.0]) != []


def test_ears_exchanged_at_one_temperature_show_as_a_pattern_of_directions_in_a_weak_ear(reference):
    (one,) = stand_out(visits([5.0, 22.0, 30.0, 4.0]), reference)

    (reason,) = one.reasons
    assert reason.code == "direction_pattern"
    assert reason.value < reason.low < 1 < reason.high


def test_warm_and_cool_far_apart_in_both_ears_are_a_pattern_of_temperatures(reference):
    (one,) = stand_out(visits([60.0, 8.0, 58.0, 9.0]), reference)

    (reason,) = one.reasons
    assert reason.code == "warm_cool_pattern"
    assert reason.value > reason.high


@pytest.mark.parametrize(
    ("peaks", "code", "detail"),
    [
        ([-30.0, -22.0, -28.0, -21.0], "three_or_more_negative", None),
        ([-30.0, -22.0, -28.0, 21.0], "three_or_more_negative", None),
        ([-30.0, -22.0, 28.0, 21.0], "negative_pair", "right"),
        ([-30.0, 22.0, -28.0, 21.0], "negative_pair", "warm"),
    ],
)
def test_responses_that_beat_backwards_together_are_a_reason(reference, peaks, code, detail):
    (one,) = stand_out(visits(peaks), reference)

    assert (code, detail) in [(reason.code, reason.detail) for reason in one.reasons]
    assert one.negative_peaks == sum(peak < 0 for peak in peaks)


def test_small_negatives_of_a_silent_pair_of_ears_are_no_reason(reference):
    assert codes(reference, [-1.5, -0.5, -1.9, 0.3]) == []


def test_a_spontaneous_nystagmus_is_taken_out_where_it_is_known(reference):
    peaks = [42.0, 10.0, 16.0, 33.0]

    assert codes(reference, peaks, spontaneous=12.0) == []
    assert "direction_pattern" in codes(reference, peaks, handling=HANDLING_REMOVED)
    assert responses(visits(peaks, spontaneous=12.0)).tolist() == [[30.0, 22.0, 28.0, 21.0]]


def test_an_unknown_nystagmus_widens_what_is_usual(reference):
    spreads = {one.kind: one.direction_spread for one in reference.kinds}

    assert spreads["all|all|unknown"] > spreads["all|all|known"]
    unknown = visits([30.0, 22.0, 28.0, 21.0], handling=HANDLING_UNKNOWN, spontaneous=np.nan)
    assert not stand_out(unknown, reference)[0].stands_out


def test_a_response_copied_with_its_fixation_is_named(reference):
    fixation = np.array([[14.1, 11.0, 14.1, 9.0]])

    found = stand_out(visits([28.3, 22.0, 28.3, 21.0], fixation=fixation), reference)[0].reasons
    other = np.array([[14.1, 11.0, 14.2, 9.0]])

    assert [(one.code, one.detail) for one in found] == [
        ("same_peak_and_fixation", "right_warm+left_warm")
    ]
    assert codes(reference, [28.3, 22.0, 28.3, 21.0], fixation=other) == []


def test_three_equal_peaks_are_a_reason_and_two_are_not(reference):
    assert codes(reference, [22.4, 22.4, 22.4, 21.0]) == ["three_equal_peaks"]
    assert codes(reference, [22.4, 22.4, 25.0, 21.0]) == []


def test_responses_faster_than_an_eye_are_a_reason(reference):
    found = codes(reference, [500.0, 480.0, 500.5, 470.0])

    assert found == ["very_large_response"]


@pytest.mark.parametrize(("index", "expected"), [(1.6, 1), (0.9, 0), (-0.5, 1), (np.nan, 0)])
def test_a_fixation_index_that_cannot_be_is_a_reason(reference, index, expected):
    found = codes(reference, [30.0, 22.0, 28.0, 21.0], fixation_index=np.array([index]))

    assert found == ["fixation_index_unusual"] * expected


def test_a_missing_cell_is_not_compared_and_the_rules_still_speak(reference):
    (one,) = stand_out(visits([-30.0, -22.0, -28.0, np.nan]), reference)

    assert (one.distance, one.not_compared) == (None, "cell_missing")
    assert [reason.code for reason in one.reasons] == ["three_or_more_negative"]


def test_four_missing_cells_give_nothing_at_all(reference):
    (one,) = stand_out(visits([np.nan] * 4), reference)

    assert (one.reasons, one.distance, one.negative_peaks) == ((), None, 0)


@pytest.mark.parametrize("count", [0, 1, 199])
def test_a_network_of_few_visits_knows_nothing_usual(count):
    few = fit_reference(draw_visits(np.random.default_rng(1), count).visits)

    (one,) = stand_out(visits([300.0, 22.0, 28.0, 21.0]), few)

    assert few.kinds == ()
    assert (one.not_compared, one.reasons) == ("too_few_visits_known", ())


def test_a_network_of_equal_visits_gives_finite_figures():
    equal = fit_reference(visits(*[[20.0] * 4] * 300))

    body = json.dumps(equal.to_json(), allow_nan=False)
    (one,) = stand_out(visits([25.0, 22.0, 28.0, 21.0]), equal)

    assert Reference.from_json(json.loads(body)) == equal
    assert one.distance is not None
    assert np.isfinite(one.distance)


def test_a_reference_survives_being_stored_and_says_the_same(reference):
    again = Reference.from_json(json.loads(json.dumps(reference.to_json(), allow_nan=False)))
    some = draw_visits(np.random.default_rng(7), 300).visits

    assert again == reference
    assert stand_out(some, again) == stand_out(some, reference)


def test_a_kind_that_nobody_knows_is_compared_with_all(reference):
    (known,) = stand_out(visits([300.0, 22.0, 28.0, 21.0]), reference)
    unheard = visits([300.0, 22.0, 28.0, 21.0], medium=np.array(["water_closed"]))

    (other,) = stand_out(unheard, reference)

    assert other.distance == pytest.approx(known.distance, rel=0.1)


def test_the_retest_scale_has_a_standard_error_of_one_at_every_size():
    rng = np.random.default_rng(3)
    for size in (0.0, 5.0, 20.0, 80.0):
        again = size + rng.normal(0, np.sqrt(1 + (0.17 * size) ** 2), 20_000) / 20
        # A twentieth of the error, so that the scale is straight over it.
        assert np.std(in_retest_errors(again)) * 20 == pytest.approx(1.0, abs=0.03)


def test_the_contrasts_of_a_usual_visit_are_nought_with_an_error_of_one_unit():
    rng = np.random.default_rng(4)
    four = np.exp(3.0 + np.array([0.17, -0.17, 0.17, -0.17]) + rng.normal(0, 0.017, (20_000, 4)))

    seen = contrasts(four, np.full(20_000, 0.17))

    for one in (seen.warm_cool, seen.direction):
        assert one.mean() == pytest.approx(0.0, abs=0.02)
        # A tenth of the retest noise of strong responses, so a hundredth of the variance.
        assert one.var() * 100 == pytest.approx(RETEST_VARIANCE, abs=0.1)


def test_the_spreads_between_patients_are_found_again(reference):
    # Planted: half warm-cool difference SD 0.12, so ln(warm/cool) 0.24; the directions' 0.10.
    usual = next(one for one in reference.kinds if one.kind == "all|all|known")

    assert usual.usual_half == pytest.approx(0.17, abs=0.01)
    assert usual.warm_cool_spread == pytest.approx(0.24, abs=0.03)
    assert usual.direction_spread == pytest.approx(0.10, abs=0.04)
    assert usual.warm_cool_centre == pytest.approx(0.0, abs=0.1)


def test_faults_are_found_and_about_one_sound_visit_in_200_is_marked_weak_ears_no_more():
    found = standout_study(seed=4, visits=8000)

    assert 0.002 < found.all_sound < 0.009
    assert found.weak < 0.011
    assert found.found["times_ten"] > 0.95
    assert found.found["tenth"] > 0.80
    assert found.found["sign_flipped"] > 0.93
    assert found.found["ears_exchanged_at_one_temperature_signed"] > 0.97
    assert found.found["temperatures_exchanged_in_one_ear_signed"] > 0.90
    # Two responses of about the same size exchanged look like themselves.
    assert found.found["two_exchanged"] < 0.4


def test_every_reason_given_is_a_known_one(reference):
    rng = np.random.default_rng(6)
    some = with_fault(rng, draw_visits(rng, 400).visits, "times_ten")

    found = [reason for one in stand_out(some, reference) for reason in one.reasons]

    assert {reason.code for reason in found} <= set(REASONS)
    assert all(np.isfinite(reason.value) for reason in found)


def test_columns_that_differ_in_length_are_refused():
    sound = visits([30.0, 22.0, 28.0, 21.0])

    with pytest.raises(ValueError, match="differ in length"):
        replace(sound, spontaneous=np.zeros(2))


def test_a_fault_nobody_knows_is_refused():
    rng = np.random.default_rng(1)

    with pytest.raises(ValueError, match="no such fault"):
        with_fault(rng, visits([1.0, 2.0, 3.0, 4.0]), "other")
