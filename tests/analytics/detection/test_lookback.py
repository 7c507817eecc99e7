"""What a failed temperature check could have changed. Source: derived (a response in proportion
to the distance of the stimulus from 37 Cel)."""

from __future__ import annotations

import pytest

from analytics.detection.lookback import Suspect, look_back
from registry.caloric.compute import Job, compute_visit
from tests.registry.caloric.building import changed, irrigation, response_beats, steady, visit

# Right 50, left 30 of 80 deg/s: a weakness of exactly 25 %, not beyond it.
AT_THE_LIMIT = {"right_warm": 30.0, "right_cool": 20.0, "left_warm": 20.0, "left_cool": 10.0}
TOO_COOL = Suspect(irrigator="IR-2", stimulus="warm", error_c=-1.0)


def looked(sent, suspect=TOO_COOL):
    return look_back([Job(visit=sent)], suspect)[0]


def scenario(found, error_c, ears):
    return next(one for one in found.scenarios if (one.error_c, one.ears) == (error_c, ears))


def test_responses_are_scaled_to_the_set_temperature():
    found = looked(visit(peaks=AT_THE_LIMIT))

    # 1 Cel too cool of 7: both warm responses would have been 7/6 of what they were.
    right, left = 30 * 7 / 6 + 20, 20 * 7 / 6 + 10
    both = scenario(found, -1.0, ("right", "left"))
    assert both.weakness_percent == pytest.approx(100 * (right - left) / (right + left), abs=1e-9)
    one = scenario(found, -1.0, ("right",))
    assert one.weakness_percent == pytest.approx(100 * (right - 30) / (right + 30), abs=1e-9)


def test_a_criterion_that_could_be_met_is_named_with_its_range():
    found = looked(visit(peaks=AT_THE_LIMIT))

    assert found.as_sent.met == ()
    assert found.could_be_met == ("unilateral_weakness",)
    assert found.at_worst == ("unilateral_weakness",)
    assert found.changed == ("unilateral_weakness",)
    low, high = found.weakness_range
    assert low < 25.0 < high
    # The most is one ear alone, too cool by 1 Cel: 100 (55 - 30) / 85.
    assert high == pytest.approx(2500 / 85, abs=1e-9)


def test_a_criterion_that_could_fall_away_is_named():
    found = looked(visit(peaks={**AT_THE_LIMIT, "left_cool": 9.5}))

    assert found.as_sent.met == ("unilateral_weakness",)
    assert found.could_fall_away == ("unilateral_weakness",)


def test_half_a_degree_moves_the_weakness_by_at_most_4_points_with_water():
    # Derived in the rules of the trade: both errors in one ear, 3.7 points at equal responses.
    halves = Suspect(irrigator="IR-2", stimulus="warm", error_c=0.5)

    low, high = looked(visit(), halves).weakness_range

    assert 1.5 < high < 4.0
    assert -4.0 < low < -1.5


def test_the_errors_tried_reach_from_the_tolerance_to_the_failed_reading():
    assert TOO_COOL.errors_c() == (-1.0, 0.5)
    assert Suspect(irrigator="I", stimulus="warm", error_c=0.8).errors_c() == (0.8, -0.5)
    assert Suspect(irrigator="I", stimulus="warm", error_c=0.2).errors_c() == (0.2, 0.5, -0.5)
    assert len(looked(visit()).scenarios) == 6


@pytest.mark.parametrize(
    "suspect",
    [
        Suspect(irrigator="IR-9", stimulus="warm", error_c=1.0),
        Suspect(irrigator="IR-2", stimulus="ice", error_c=1.0),
    ],
)
def test_a_visit_without_that_irrigator_or_stimulus_is_not_affected(suspect):
    found = looked(visit(), suspect)

    assert (found.reason, found.scenarios, found.changed) == ("not_affected", (), ())
    assert found.irrigations == ()


def test_only_the_irrigations_of_that_irrigator_are_affected():
    sent = changed(visit(), "left_warm", irrigator="IR-9")

    found = looked(sent)

    assert found.irrigations == ("right_warm_1",)
    # One ear alone: nothing to tell apart, so each error is tried once.
    assert len(found.scenarios) == 2


def test_a_cool_stimulus_too_warm_would_have_been_stronger():
    found = looked(visit(), Suspect(irrigator="IR-2", stimulus="cool", error_c=1.0))

    # 31 Cel instead of 30 is 6 below the body instead of 7.
    one = scenario(found, 1.0, ("right",))
    right = 20 + 20 * 7 / 6
    assert one.weakness_percent == pytest.approx(100 * (right - 40) / (right + 40), abs=1e-9)


def test_a_spontaneous_nystagmus_in_the_peak_is_not_scaled():
    sent = visit(
        peaks={"right_warm": 26.0, "left_warm": 14.0, "right_cool": 14.0, "left_cool": 26.0},
        spontaneous=steady(6.0),
    )

    found = looked(sent)

    # 20 deg/s of it are caloric on either side, so both ears stay equal.
    both = scenario(found, -1.0, ("right", "left"))
    assert both.weakness_percent == pytest.approx(0.0, abs=1e-9)
    total = 4 * 20 + 2 * 20 / 6
    assert both.preponderance_percent == pytest.approx(100 * 24 / total, abs=1e-9)


def test_no_set_temperature_leaves_nothing_to_scale_unless_one_is_given():
    sent = visit(irrigation("right_warm", 20.0, set_temperature_c=None), irrigation("left_warm"))

    assert looked(sent).reason == "set_temperature_unknown"
    with_one = Suspect(irrigator="IR-2", stimulus="warm", error_c=-1.0, set_temperature_c=44.0)
    assert looked(sent, with_one).reason is None


def test_an_error_down_to_the_bodys_temperature_is_not_scaled():
    found = looked(visit(), Suspect(irrigator="IR-2", stimulus="warm", error_c=-6.5))

    assert found.reason == "too_near_the_body"
    assert found.weakness_range == (0.0, 0.0)


def test_as_sent_is_what_the_registry_says_also_where_the_peak_comes_from_beats():
    sent = changed(
        visit(peaks=AT_THE_LIMIT), "right_warm", peak_spv=None, beats=response_beats(40.0)
    )

    found = looked(sent)

    index = compute_visit(sent).indices.unilateral_weakness_percent
    assert found.as_sent.weakness_percent == index
    assert scenario(found, -1.0, ("right",)).weakness_percent > index


def test_unsigned_responses_without_directions_stay_undetermined():
    sent = visit(peaks={"right_warm": 1.5}, sign_convention="unsigned")

    found = looked(sent)

    assert "unilateral_weakness" in found.as_sent.undetermined
    assert all("unilateral_weakness" in one.undetermined for one in found.scenarios)


def test_a_visit_of_one_irrigation_has_no_range():
    found = looked(visit(irrigation("right_warm")))

    assert found.weakness_range is None
    assert found.reason is None


def test_many_visits_come_back_in_order():
    sent = [visit(visit_ref=f"V-{n}", irrigator=f"IR-{n % 3}") for n in range(30)]

    found = look_back([Job(visit=one) for one in sent], TOO_COOL)

    assert [one.visit_ref for one in found] == [one.visit_ref for one in sent]
    assert [bool(one.scenarios) for one in found] == [n % 3 == 2 for n in range(30)]


@pytest.mark.parametrize("error_c", [float("nan"), float("inf")])
def test_an_error_that_is_no_number_is_refused(error_c):
    with pytest.raises(ValueError, match="error"):
        looked(visit(), Suspect(irrigator="IR-2", stimulus="warm", error_c=error_c))
