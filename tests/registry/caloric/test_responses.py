"""Directions, sign conventions, attempts and protocols."""

from __future__ import annotations

from dataclasses import replace

import pytest

from registry.caloric.compute import compute_visit
from registry.caloric.responses import (
    counted,
    directions_known,
    expected_beat_direction,
    normalise,
    protocol_done,
    sign_conflicts,
)
from registry.caloric.visit import Beats
from tests.registry.caloric.building import changed, irrigation, visit

SENT_AS = {
    "expected_positive": {"right_warm": 22, "left_warm": -3, "right_cool": 18, "left_cool": 2},
    "right_beating_positive": {"right_warm": 22, "left_warm": 3, "right_cool": -18, "left_cool": 2},
    "slow_phase_right_positive": {
        "right_warm": -22,
        "left_warm": -3,
        "right_cool": 18,
        "left_cool": -2,
    },
    "unsigned": {"right_warm": 22, "left_warm": 3, "right_cool": 18, "left_cool": 2},
}
DIRECTIONS = {
    "right_warm": "right",
    "left_warm": "right",
    "right_cool": "left",
    "left_cool": "right",
}


def sent_as(convention: str):
    peaks = SENT_AS[convention]
    sent = visit(peaks=peaks, sign_convention=convention)
    for cell, direction in DIRECTIONS.items():
        speed = peaks[cell]
        sent = changed(
            sent, cell, beat_direction=direction, pre_fixation_spv=speed, fixation_spv=speed / 2
        )
    return sent


@pytest.mark.parametrize(
    ("cell", "position", "direction"),
    [
        ("right_warm", None, "right"),
        ("left_warm", None, "left"),
        ("right_cool", None, "left"),
        ("left_cool", None, "right"),
        ("right_ice", None, "left"),
        ("right_ice", "supine_head_up", "left"),
        ("right_ice", "prone", "right"),
        ("left_ice", "prone", "left"),
    ],
)
def test_warm_beats_towards_the_ear_and_cool_away_from_it(cell, position, direction):
    assert expected_beat_direction(irrigation(cell, position=position)) == direction


@pytest.mark.parametrize("convention", SENT_AS)
def test_the_four_sign_conventions_of_one_visit_give_one_result(convention):
    expected = compute_visit(sent_as("expected_positive"))

    computed = compute_visit(sent_as(convention))

    assert computed.indices == expected.indices
    assert computed.assessments == expected.assessments
    assert computed.findings == expected.findings
    assert computed.visit.sign_convention == "expected_positive"


@pytest.mark.parametrize("convention", SENT_AS)
def test_peaks_that_agree_with_their_direction_do_not_conflict(convention):
    assert sign_conflicts(sent_as(convention)) == []


@pytest.mark.parametrize(
    "convention", ["expected_positive", "right_beating_positive", "slow_phase_right_positive"]
)
def test_a_peak_against_its_direction_conflicts_at_its_position(convention):
    sent = changed(sent_as(convention), "right_cool", beat_direction="right")

    assert sign_conflicts(sent) == [2]


def test_a_peak_of_zero_never_conflicts():
    sent = changed(visit(), "right_warm", peak_spv=0.0, beat_direction="left")

    assert sign_conflicts(sent) == []


def test_a_negative_magnitude_contradicts_its_own_convention():
    sent = changed(visit(sign_convention="unsigned"), "left_warm", peak_spv=-4.0)

    assert sign_conflicts(sent) == [1]


def test_beats_turn_with_their_peak():
    sent = visit(
        irrigation("right_cool", -9.0, beats=Beats((40.0, 41.0), (-8.0, -9.0))),
        sign_convention="right_beating_positive",
    )

    turned = normalise(sent).irrigations[0]

    assert turned.peak_spv == 9
    assert turned.beats == Beats((40.0, 41.0), (8.0, 9.0))


def test_magnitudes_without_a_direction_stay_and_the_visit_says_so():
    sent = visit(peaks={"right_warm": 7.0}, sign_convention="unsigned")

    computed = compute_visit(sent)

    assert directions_known(sent) is False
    assert computed.directions_known is False
    assert computed.visit.irrigations[0].peak_spv == 7
    assert {one.reason for one in computed.assessments} == {"directions_unknown"}


def test_a_stored_visit_can_say_that_its_directions_are_unknown():
    stored = normalise(visit(sign_convention="unsigned"))

    computed = compute_visit(stored, directions_known=False)

    assert {one.reason for one in computed.assessments} == {"directions_unknown"}


def test_the_last_usable_attempt_counts():
    first = irrigation("right_warm", 10.0)
    second = irrigation("right_warm", 20.0, attempt=2)
    third = irrigation("right_warm", 30.0, attempt=3, usable=False)

    assert counted(visit(third, first, second)) == {"right_warm": second}
    assert counted(visit(third, first, second), first_attempt=True) == {"right_warm": first}


def test_the_attempt_that_the_sender_marked_counts():
    first = irrigation("right_warm", 10.0, counts=True)
    second = irrigation("right_warm", 20.0, attempt=2)

    assert counted(visit(first, second)) == {"right_warm": first}


def test_a_refused_attempt_leaves_the_one_before_it():
    first = irrigation("right_warm", 10.0)
    second = irrigation("right_warm", 20.0, attempt=2, counts=False)

    assert counted(visit(first, second)) == {"right_warm": first}


def test_a_no_on_every_attempt_leaves_the_last():
    first = irrigation("right_warm", 10.0, counts=False)
    second = irrigation("right_warm", 20.0, attempt=2, counts=False)

    assert counted(visit(first, second)) == {"right_warm": second}


@pytest.mark.parametrize(
    ("cells", "done"),
    [
        (("right_warm", "left_warm", "right_cool", "left_cool"), "bithermal"),
        (("right_warm", "left_warm"), "monothermal_warm"),
        (("right_cool", "left_cool"), "monothermal_cool"),
        (("right_warm", "left_warm", "right_cool"), "partial"),
        (("right_warm", "left_cool"), "partial"),
        (("right_warm",), "partial"),
        (("left_ice",), "ice_only"),
        (("right_warm", "left_warm", "right_ice"), "monothermal_warm"),
    ],
)
def test_the_protocol_done_follows_from_what_is_there(cells, done):
    assert protocol_done(visit(*(irrigation(cell) for cell in cells))) == done


def test_nothing_usable_is_said_so():
    sent = replace(visit(), irrigations=(irrigation("right_warm", 20.0, usable=False),))

    assert protocol_done(sent) == "nothing_usable"
