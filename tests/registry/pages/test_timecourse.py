"""Where the marks of a drawing stand (derived: straight lines from figure to place)."""

from __future__ import annotations

from typing import Any

import pytest

from registry.pages.timecourse import BOTTOM, LEFT, RIGHT, TOP, time_course

RESPONSE = {"irrigation": "right_warm_1", "culmination_time_s": 60.0}


def irrigation(times: list[float], speeds: list[float], **more: Any) -> dict[str, Any]:
    return {"beats": {"time_s": times, "spv": speeds}} | more


def test_time_runs_from_left_to_right_and_speed_upwards() -> None:
    course = time_course(irrigation([0.0, 60.0, 120.0], [0.0, 20.0, 40.0]), RESPONSE)

    assert course is not None
    assert course.points == ((LEFT, BOTTOM), ((LEFT + RIGHT) / 2, (TOP + BOTTOM) / 2), (RIGHT, TOP))
    assert course.zero == BOTTOM


def test_beats_below_zero_stand_below_the_line_of_zero() -> None:
    course = time_course(irrigation([10.0, 20.0], [-6.0, 6.0]), RESPONSE)

    assert course is not None
    (_, below), (_, above) = course.points
    assert above < course.zero < below <= BOTTOM


def test_window_fixation_and_culmination_stand_where_they_were() -> None:
    given = irrigation([0.0, 120.0], [1.0, 30.0], fixation_from_s=90, fixation_to_s=100)

    course = time_course(given, RESPONSE)

    assert course is not None
    per_second = (RIGHT - LEFT) / 120
    segments = {one.kind: (one.start, one.end) for one in course.segments}
    assert segments["fixation"] == pytest.approx(
        (LEFT + 90 * per_second, LEFT + 100 * per_second), abs=0.1
    )
    assert segments["window"] == pytest.approx(
        (LEFT + 55 * per_second, LEFT + 65 * per_second), abs=0.1
    )
    assert course.culmination is not None
    assert course.culmination.at == pytest.approx(LEFT + 60 * per_second, abs=0.1)


def test_without_a_peak_of_its_beats_nothing_is_marked_as_one() -> None:
    course = time_course(
        irrigation([1.0, 2.0], [3.0, 4.0]), {"irrigation": "x", "culmination_time_s": None}
    )

    assert course is not None
    assert course.culmination is None
    assert not [one for one in course.segments if one.kind == "window"]


@pytest.mark.parametrize("speeds", [[0.0, 0.0], [0.05, 0.02], [-200.0, 200.0], [199.9, 3.0]])
def test_every_beat_stays_on_the_drawing(speeds: list[float]) -> None:
    course = time_course(irrigation([5.0, 595.0], speeds), RESPONSE)

    assert course is not None
    for across, up in course.points:
        assert LEFT <= across <= RIGHT
        assert TOP <= up <= BOTTOM
    assert 2 <= len(course.speed_ticks) <= 10
    assert 2 <= len(course.time_ticks) <= 12


def test_without_beats_there_is_no_drawing() -> None:
    assert time_course({"ear": "right"}, RESPONSE) is None
