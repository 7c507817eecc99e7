"""Visits of every awkward kind, as bodies to send; all figures are invented."""

from __future__ import annotations

import math
from typing import Any

from tests.conftest import irrigation


def beats(peak: float, *, step: float = 0.7) -> dict[str, list[float]]:
    """A response that rises to ``peak`` at about 70 s and falls again."""
    times = [round(12 + step * place, 1) for place in range(int(150 / step))]
    return {
        "time_s": times,
        "spv": [round(peak * math.exp(-(((time - 70) / 40) ** 2)), 2) for time in times],
    }


def irrigations(
    right_warm: float, left_warm: float, right_cool: float, left_cool: float
) -> list[Any]:
    return [
        irrigation("right", "warm", right_warm),
        irrigation("left", "warm", left_warm),
        irrigation("right", "cool", right_cool),
        irrigation("left", "cool", left_cool),
    ]


def negative_peak() -> dict[str, Any]:
    return {"irrigations": irrigations(28.0, 20.0, 17.0, -6.0)}


def sum_not_positive() -> dict[str, Any]:
    return {"irrigations": irrigations(12.0, -11.0, 9.0, -12.0)}


def monothermal() -> dict[str, Any]:
    return {
        "protocol_planned": "monothermal_warm",
        "irrigations": irrigations(22.0, 21.0, 0.0, 0.0)[:2],
    }


def five_irrigations() -> dict[str, Any]:
    """The first one repeated with its reason, the repeat counts."""
    again = irrigation("right", "warm", 26.0, attempt=2, repeat_reason="first_response_check")
    return {"irrigations": [*irrigations(41.0, 24.0, 22.0, 21.0), again]}


def repeat_without_reason() -> dict[str, Any]:
    again = irrigation("left", "cool", 19.0, attempt=2)
    first = irrigations(25.0, 24.0, 22.0, 21.0)
    first[3] |= {"usable": False, "unusable_reason": ["eyes_closed"]}
    return {"irrigations": [*first, again]}


def inverted() -> dict[str, Any]:
    return {
        "medium": "air",
        "spontaneous": {"spv": 0.0, "kind": "none", "handling": "not_removed"},
        "otoscopy": {"right": "clear", "left": "perforation"},
        "irrigations": irrigations(24.0, -15.0, 22.0, 20.0),
    }


def open_drum_and_water() -> dict[str, Any]:
    return {"otoscopy": {"right": "clear", "left": "perforation"}}


def whole() -> dict[str, Any]:
    """Every part of a visit that a page has to show, beats and fixation among them."""
    given = irrigations(31.2, 19.8, 27.4, 16.9)
    for place, one in enumerate(given):
        one |= {
            "beats": beats(one["peak_spv"]),
            "started_at": f"2026-03-02T09:{10 + 8 * place:02}:00+00:00",
            "order_in_visit": place + 1,
            "measured_temperature_c": one["set_temperature_c"] + 0.1,
            "measured_by": "reference_thermometer",
            "duration_s": 30,
            "volume_ml": 250,
            "peak_basis": "mean_10s",
            "pre_fixation_spv": one["peak_spv"] * 0.9,
            "fixation_spv": one["peak_spv"] * 0.3,
            "fixation_from_s": 100,
            "fixation_to_s": 110,
        }
    given[1]["measured_temperature_c"] = 44.9
    return {
        "sex": "female",
        "visit_kind": "first",
        "recorder": "RC-1",
        "protocol_planned": "bithermal",
        "head_elevation_deg": 30,
        "spontaneous": {"spv": -2.5, "kind": "steady_horizontal", "handling": "not_removed"},
        "otoscopy": {"right": "clear", "left": "wax_removed_today"},
        "background": {
            "referral_group": "recurrent_episodes",
            "onset_band": "1_6mo",
            "symptomatic_ear": "left",
            "suppressants_48h": "none",
        },
        "recording": {
            "method": "video",
            "eye": "both",
            "vision_denied": "covered",
            "alerting": "given",
        },
        "reported": {
            "unilateral_weakness_percent": 23.0,
            "lower_side": "left",
            "directional_preponderance_percent": 12.0,
            "preponderance_direction": "right_beating",
            "total_spv": 95.3,
        },
        "irrigations": given,
    }
