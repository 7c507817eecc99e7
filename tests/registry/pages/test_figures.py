"""Signs become words, and rounding never hides that a limit was passed."""

from __future__ import annotations

import pytest

from registry.caloric.visit import Irrigation
from registry.pages.assessment_words import said_assessment
from registry.pages.figures import (
    beating_words,
    interval_words,
    percent_words,
    spv_words,
    total_words,
)

RIGHT_WARM = Irrigation(ear="right", stimulus="warm")
LEFT_COOL = Irrigation(ear="left", stimulus="cool")


@pytest.mark.parametrize(
    ("index", "value", "words"),
    [
        ("unilateral_weakness_percent", 28.2, "28 % lower on the left"),
        ("unilateral_weakness_percent", -28.2, "28 % lower on the right"),
        ("unilateral_weakness_percent", 0.0, "no difference"),
        ("unilateral_weakness_percent", 0.3, "less than 1 % lower on the left"),
        ("unilateral_weakness_percent", 112.0, "112 % lower on the left"),
        ("directional_preponderance_percent", -12.0, "12 % stronger left-beating"),
        ("temperature_effect_percent", -7.0, "7 % stronger cool"),
        ("baseline_shift_percent", 10.0, "10 % towards right-beating"),
    ],
)
def test_a_percentage_says_its_side(index: str, value: float, words: str) -> None:
    assert percent_words(index, value) == words


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (12.0, 44.0, "could be 12 to 44 % lower on the left on another day"),
        (-44.0, -12.0, "could be 12 to 44 % lower on the right on another day"),
        (
            -6.0,
            20.0,
            "could be anything from 6 % lower on the right to 20 % lower on the left"
            " on another day",
        ),
    ],
)
def test_an_interval_says_the_side_of_both_its_ends(low: float, high: float, words: str) -> None:
    assert interval_words("unilateral_weakness_percent", low, high) == words


def test_a_peak_below_zero_is_said_to_beat_against_the_expected_direction() -> None:
    assert spv_words(RIGHT_WARM, 31.24) == "31.2 deg/s, beating right"
    assert spv_words(RIGHT_WARM, -6.0) == "6.0 deg/s, beating left: against the expected direction"
    assert spv_words(LEFT_COOL, 12.0) == "12.0 deg/s, beating right"


def test_a_magnitude_of_unknown_direction_claims_none() -> None:
    assert spv_words(RIGHT_WARM, 6.0, direction_known=False) == "6.0 deg/s, direction not known"


def test_spontaneous_nystagmus_is_named_by_its_beat() -> None:
    assert beating_words(-2.5) == "2.5 deg/s, left-beating"
    assert beating_words(0.0) == "0.0 deg/s"
    assert beating_words(None) == "not recorded"


def test_a_total_below_zero_says_so_in_words() -> None:
    assert total_words(-2.0) == "2.0 deg/s, on balance against the expected direction"
    assert total_words(-0.0) == "0.0 deg/s"


@pytest.mark.parametrize(
    ("value", "words"), [(25.04, "25.04 % lower on the left"), (31.0, "31 % lower on the left")]
)
def test_a_value_just_past_its_limit_is_not_rounded_onto_it(value: float, words: str) -> None:
    found = said_assessment(
        {
            "code": "unilateral_weakness",
            "criterion": "unilateral_weakness",
            "limit": 25.0,
            "value": value,
            "inclusive": False,
            "source": "common practice",
        }
    )

    assert found.value == words
    assert found.limit == "met above 25 %"


def test_a_limit_that_counts_itself_and_one_met_from_below_are_said_so() -> None:
    fixation = {"code": "fixation_index_above_limit", "criterion": "fixation_index_above_limit"}
    low = {"code": "low_ear_total", "criterion": "low_ear_total"}

    at = said_assessment(fixation | {"limit": 0.6, "value": 0.6, "inclusive": True})
    below = said_assessment(low | {"limit": 12.0, "value": 11.98, "inclusive": False})

    assert (at.value, at.limit) == ("0.60", "met at or above 0.6")
    assert (below.value, below.limit) == ("11.98 deg/s", "met below 12 deg/s")
