"""The formulas: properties that hold for every input, and what is undefined."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from registry.caloric.compute import Job, compute_visit, compute_visits
from registry.caloric.indices import HANDLING_CODES, NUMBERS, Indices, compute_indices
from tests.registry.caloric.building import changed, irrigation, response_beats, steady, visit

PERCENTAGES = [name for name in NUMBERS if "percent" in name]
speeds = st.floats(-60, 120, allow_nan=False)
four_speeds = st.tuples(speeds, speeds, speeds, speeds)
handlings = st.sampled_from(sorted(HANDLING_CODES))


def one(rw, rc, lw, lc, **more) -> Indices:
    return compute_indices([rw], [rc], [lw], [lc], **more).rows()[0]


def exact(rw, rc, lw, lc, spontaneous, handling) -> dict[str, float]:
    """The same formulas once more, in exact arithmetic and written from the definitions."""
    rw, rc, lw, lc, sn = (Fraction(x) for x in (rw, rc, lw, lc, spontaneous))
    if handling == "removed":
        # What was recorded in the chair, before the nystagmus was taken out.
        rw, rc, lw, lc = rw + sn, rc - sn, lw - sn, lc + sn
    s = rw + rc + lw + lc
    found = {
        "right_total": rw + rc,
        "left_total": lw + lc,
        "warm_total": rw + lw,
        "cool_total": rc + lc,
        "total_spv": s,
        "unilateral_weakness_percent": 100 * ((rw + rc) - (lw + lc)) / s,
        "directional_preponderance_percent": 100 * ((rw + lc) - (lw + rc)) / s,
        "temperature_effect_percent": 100 * ((rw + lw) - (rc + lc)) / s,
    }
    without = [(rw - sn), (rc + sn), (lw + sn), (lc - sn)]
    for name, (right, left), (plain_right, plain_left) in (
        ("warm", (rw, lw), (without[0], without[2])),
        ("cool", (rc, lc), (without[1], without[3])),
    ):
        if right + left > Fraction(1, 10):
            key = f"monothermal_{name}_percent"
            found[key] = 100 * (right - left) / (right + left)
            if handling != "unknown":
                removed = 100 * (plain_right - plain_left) / (plain_right + plain_left)
                found[f"{key}_spontaneous_removed"] = removed
    if handling != "unknown":
        a, b, c, d = without
        found["baseline_shift_percent"] = 400 * sn / s
        found["gain_asymmetry_percent"] = 100 * ((a + d) - (c + b)) / s
    return {name: float(value) for name, value in found.items()}


def close(one_value: float, other: float) -> bool:
    return math.isclose(one_value, other, rel_tol=1e-12, abs_tol=1e-12)


@given(four_speeds, st.floats(-15, 15), handlings)
def test_every_index_agrees_with_exact_arithmetic(four, spontaneous, handling):
    assume(sum(four) > 10)
    assume(all(abs(pair) > 1 for pair in (four[0] + four[2], four[1] + four[3])))

    indices = one(*four, spontaneous=[spontaneous], handling=handling)

    for name, value in exact(*four, spontaneous, handling).items():
        # Rounding of a sum of speeds up to 120 is magnified by 100 / S.
        assert math.isclose(getattr(indices, name), value, rel_tol=1e-12, abs_tol=1e-11), name


@settings(deadline=None)
@given(st.lists(st.tuples(four_speeds, st.floats(-9, 9), handlings), min_size=1, max_size=30))
def test_many_at_once_and_one_at_a_time_agree(visits):
    columns = list(zip(*(four for four, _, _ in visits), strict=True))
    handling = [HANDLING_CODES[word] for _, _, word in visits]

    together = compute_indices(
        *columns, spontaneous=[sn for _, sn, _ in visits], handling=handling
    ).rows()

    for row, (four, sn, word) in zip(together, visits, strict=True):
        alone = one(*four, spontaneous=[sn], handling=word)
        for name in NUMBERS:
            pair = getattr(row, name), getattr(alone, name)
            assert pair == (None, None) or close(*pair), name


def test_blocks_leave_no_seam():
    generator = np.random.default_rng(7)
    four = generator.normal(20, 15, (4, 10_001))

    together = compute_indices(*four).rows()

    for place in (0, 4095, 4096, 8191, 8192, 10_000):
        assert together[place] == one(*four[:, place])


@given(four_speeds)
def test_swapping_the_ears_flips_weakness_and_preponderance(four):
    assume(sum(four) > 1)
    rw, rc, lw, lc = four

    here, there = one(rw, rc, lw, lc), one(lw, lc, rw, rc)

    assert close(here.unilateral_weakness_percent, -there.unilateral_weakness_percent)
    assert close(here.directional_preponderance_percent, -there.directional_preponderance_percent)
    assert close(here.total_spv, there.total_spv)


@given(four_speeds, st.floats(0.1, 10))
def test_scaling_all_four_changes_no_percentage(four, factor):
    assume(sum(four) > 10)
    assume(all(abs(pair) > 1 for pair in (four[0] + four[2], four[1] + four[3])))

    plain, scaled = one(*four), one(*(factor * speed for speed in four))

    for name in PERCENTAGES:
        pair = getattr(plain, name), getattr(scaled, name)
        assert pair == (None, None) or math.isclose(*pair, rel_tol=1e-9, abs_tol=1e-9), name


@given(four_speeds, st.floats(-15, 15))
def test_a_spontaneous_nystagmus_moves_the_preponderance_alone(four, b):
    assume(sum(four) > 10)
    rw, rc, lw, lc = four

    still = one(rw, rc, lw, lc, spontaneous=[0.0], handling="not_removed")
    beating = one(rw + b, rc - b, lw - b, lc + b, spontaneous=[b], handling="not_removed")

    for name in ("unilateral_weakness_percent", "right_total", "left_total", "total_spv"):
        assert getattr(still, name) == pytest.approx(getattr(beating, name), abs=1e-9), name
    moved = beating.directional_preponderance_percent - still.directional_preponderance_percent
    assert moved == pytest.approx(400 * b / still.total_spv, abs=1e-9)
    assert beating.gain_asymmetry_percent == pytest.approx(still.gain_asymmetry_percent, abs=1e-9)


@given(four_speeds, st.floats(-15, 15))
def test_removed_and_not_removed_tell_the_same_visit(four, b):
    assume(sum(four) > 10)
    rw, rc, lw, lc = four

    raw = one(rw, rc, lw, lc, spontaneous=[b], handling="not_removed")
    removed = one(rw - b, rc + b, lw + b, lc - b, spontaneous=[b], handling="removed")

    for name in PERCENTAGES:
        pair = getattr(raw, name), getattr(removed, name)
        if pair != (None, None) and four[0] + four[2] > 1 and four[1] + four[3] > 1:
            assert pair[0] == pytest.approx(pair[1], abs=1e-8), name


@pytest.mark.parametrize(
    "more",
    [
        {"spontaneous": [3.0], "handling": "unknown"},
        {"spontaneous": [math.nan], "handling": "not_removed"},
        {"spontaneous": None, "handling": "removed"},
    ],
)
def test_an_unknown_nystagmus_leaves_shift_and_gain_undefined(more):
    indices = one(26, 14, 15, 29, **more)

    assert indices.baseline_shift_percent is None
    assert indices.gain_asymmetry_percent is None
    assert indices.monothermal_warm_percent_spontaneous_removed is None
    assert indices.directional_preponderance_percent == pytest.approx(100 * 26 / 84)


@pytest.mark.parametrize("kind", ["direction_changing", "vertical", "lifelong"])
def test_only_a_steady_horizontal_nystagmus_is_removed(kind):
    spontaneous = steady(3.0)
    sent = visit(spontaneous=type(spontaneous)(spv=3.0, kind=kind, handling="not_removed"))

    assert compute_visit(sent).indices.baseline_shift_percent is None
    assert compute_visit(visit(spontaneous=spontaneous)).indices.baseline_shift_percent == 15


def test_a_negative_peak_stays_negative():
    computed = compute_visit(visit(peaks={"right_warm": -12.0, "right_cool": 12.0}))

    assert computed.visit.irrigations[0].peak_spv == -12
    assert computed.indices.right_total == 0
    assert computed.indices.unilateral_weakness_percent == -100


def test_percentages_are_not_clipped_at_100():
    assert one(-12, 12, 32, 8).directional_preponderance_percent == -120


@pytest.mark.parametrize(
    ("four", "reason"),
    [
        ((0, 0, 0, 0), "no_response"),
        ((1.9, -1.9, -1.9, 1.9), "no_response"),
        ((2.0, -2.0, 0, 0), "sum_not_positive"),
        ((-20, -20, -20, -20), "sum_not_positive"),
        ((0.1, 0.2, -0.3, 0), "no_response"),
        ((0.5, 0.5, 0.5, 0.5), None),
    ],
)
def test_a_sum_that_is_not_positive_leaves_percentages_undefined(four, reason):
    indices = one(*four)

    assert indices.undefined_reason == reason
    assert (indices.unilateral_weakness_percent is None) is (reason is not None)
    assert (indices.unilateral_weakness_se_retest is None) is (reason is not None)
    assert indices.total_spv == pytest.approx(sum(four))


def test_one_temperature_alone_is_monothermal_and_its_asymmetry_is_given():
    sent = visit(irrigation("right_warm", 23.0), irrigation("left_warm", 17.0))

    indices = compute_visit(sent).indices

    assert indices.undefined_reason == "monothermal"
    assert indices.unilateral_weakness_percent is None
    assert indices.monothermal_warm_percent == 15
    assert (indices.warm_total, indices.cool_total, indices.right_total) == (40, None, None)


def test_a_missing_cell_leaves_the_weakness_undefined_and_keeps_the_totals_it_can():
    sent = visit(irrigation("right_warm"), irrigation("left_warm"), irrigation("right_cool"))

    indices = compute_visit(sent).indices

    assert indices.undefined_reason == "missing_irrigation"
    assert indices.monothermal_warm_percent == 0
    assert (indices.right_total, indices.left_total, indices.total_spv) == (40, None, None)


def test_a_second_temperature_without_a_peak_is_missing_not_monothermal():
    few = response_beats(20.0, step=30.0)
    sent = visit(
        irrigation("right_warm"),
        irrigation("left_warm"),
        irrigation("right_cool", None, beats=few),
    )

    assert compute_visit(sent).indices.undefined_reason == "missing_irrigation"


def test_a_pair_of_one_temperature_follows_its_own_sum():
    indices = one(-6, 30, -6, 30)

    assert indices.undefined_reason is None
    assert indices.monothermal_warm_percent is None
    assert indices.monothermal_cool_percent == 0


@pytest.mark.parametrize(
    ("four", "lower", "beating"),
    [
        ((22, 18, 3, 2), "left", "right_beating"),
        ((3, 2, 22, 18), "right", "left_beating"),
        ((20, 20, 20, 20), "none", "none"),
    ],
)
def test_sides_are_in_words(four, lower, beating):
    indices = one(*four)

    assert (indices.lower_side, indices.preponderance_direction) == (lower, beating)


def test_nothing_undefined_reaches_a_reader_as_nan():
    indices = one(math.nan, 1, 2, math.nan)

    values = [getattr(indices, name) for name in NUMBERS]
    assert all(value is None or math.isfinite(value) for value in values)


def test_the_json_holds_the_fixation_indices_together():
    body = one(20, 20, 20, 20).as_json()

    assert body["fixation_index"] == dict.fromkeys(
        (
            "right_warm",
            "left_warm",
            "right_cool",
            "left_cool",
            "right_beating",
            "left_beating",
            "overall",
        )
    )
    assert body["method_version"] == 1
    assert body["unilateral_weakness_percent"] == 0
    assert len(body) == len(NUMBERS) - 7 + 1 + 4


def test_the_retest_error_is_the_delta_method_of_the_peaks():
    # 0.17 of the peak and 1 deg/s: derived from Proctor et al., Ann Otol Rhinol Laryngol
    # 1986;95:83-90. Here by numerical differentiation of the weakness itself.
    four = [28.4, 19.6, 17.2, 12.8]
    for name in ("unilateral_weakness", "directional_preponderance"):
        expected = 0.0
        for place, peak in enumerate(four):
            higher, lower = list(four), list(four)
            higher[place] += 1e-4
            lower[place] -= 1e-4
            slope = (
                getattr(one(*higher), f"{name}_percent") - getattr(one(*lower), f"{name}_percent")
            ) / 2e-4
            expected += slope**2 * (1 + (0.17 * peak) ** 2)

        assert getattr(one(*four), f"{name}_se_retest") == pytest.approx(
            math.sqrt(expected), rel=1e-6
        )


def test_the_retest_limit_of_a_usual_test_is_about_24_points():
    # Proctor et al. 1986: 95 % of retests within 24 points; the change of two tests has an SE
    # of sqrt(2) times the SE of one.
    indices = one(25, 25, 25, 25)

    assert 1.96 * math.sqrt(2) * indices.unilateral_weakness_se_retest == pytest.approx(24, abs=1)


def test_the_error_within_the_responses_needs_all_four_of_them():
    errors = [[1.0], [2.0], [1.5], [0.5]]

    whole = one(20, 16, 18, 22, standard_errors=errors)
    missing = one(20, 16, 18, 22, standard_errors=[*errors[:3], [math.nan]])

    s, right, left = 76, 36, 40
    expected = math.sqrt((200 * left / s**2) ** 2 * 5 + (200 * right / s**2) ** 2 * 2.5)
    assert whole.unilateral_weakness_se_within_response == pytest.approx(expected, rel=1e-12)
    beating = math.sqrt((200 * 34 / s**2) ** 2 * 1.25 + (200 * 42 / s**2) ** 2 * 6.25)
    assert whole.directional_preponderance_se_within_response == pytest.approx(beating, rel=1e-12)
    assert missing.unilateral_weakness_se_within_response is None
    assert missing.unilateral_weakness_se_retest is not None


def fixated(cells: dict[str, tuple[float | None, float | None]]):
    sent = visit()
    for cell, (before, with_fixation) in cells.items():
        sent = changed(sent, cell, pre_fixation_spv=before, fixation_spv=with_fixation)
    return compute_visit(sent)


def test_fixation_indices_are_ratios_of_sums_over_strong_enough_cells():
    # Ratio of sums and the 8 deg/s are derived; the index: Takemori, Ann Otol Rhinol Laryngol
    # 1977;86:80-85.
    computed = fixated(
        {
            "right_warm": (20.0, 4.0),
            "left_cool": (10.0, 5.0),
            "left_warm": (8.0, 2.0),
            "right_cool": (7.99, 7.0),
        }
    )

    indices = computed.indices
    assert indices.fixation_index_right_warm == pytest.approx(0.2)
    assert indices.fixation_index_right_beating == pytest.approx(9 / 30)
    assert indices.fixation_index_left_beating == pytest.approx(2 / 8)
    assert indices.fixation_index_right_cool == pytest.approx(7 / 7.99)
    assert indices.fixation_index_overall == pytest.approx(11 / 38)


def test_without_a_speed_before_fixation_the_peak_stands_in_and_is_named():
    computed = fixated({"right_warm": (None, 5.0), "left_warm": (10.0, 5.0)})

    assert computed.indices.fixation_index_right_warm == 0.25
    by_name = {one.name: one.fixation_base for one in computed.responses}
    assert by_name == {
        "right_warm_1": "peak",
        "left_warm_1": "pre_fixation",
        "right_cool_1": None,
        "left_cool_1": None,
    }


def test_a_fixation_index_that_was_not_recorded_is_undefined():
    indices = fixated({}).indices

    assert indices.fixation_index_overall is None
    assert indices.fixation_index_left_beating is None


def test_a_chunk_of_unlike_visits_gives_what_each_gives_alone():
    visits = [
        visit(),
        visit(irrigation("right_warm"), irrigation("left_warm")),
        visit(spontaneous=steady(4.0), peaks={"right_warm": -3.0}),
        fixated({"right_warm": (20.0, 4.0)}).visit,
        visit(*visit().irrigations, irrigation("right_warm", 31.0, attempt=2)),
    ]

    together = compute_visits([Job(visit=sent) for sent in visits])

    assert together == [compute_visit(sent) for sent in visits]
    assert compute_visits([]) == []


def test_columns_of_unequal_length_are_refused():
    with pytest.raises(ValueError):
        compute_indices([1.0, 2.0], [1.0, 2.0, 3.0], [1.0, 2.0], [1.0, 2.0])
