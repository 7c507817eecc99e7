"""Plain words for the codes of what the registry computed and found."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

Words = Mapping[str, str]

FOUND: Final[Mapping[str, Words]] = {
    "undefined_reason": {
        "no_response": "undefined: no response in any irrigation",
        "sum_not_positive": "undefined: the responses add up to zero or less",
        "missing_irrigation": "undefined: an irrigation is missing",
        "monothermal": "undefined: only one temperature was given",
    },
    "assessment": {
        "no_criterion_met": "No criterion of this set is met",
        "unilateral_weakness": "Unilateral weakness beyond the limit",
        "directional_preponderance": "Directional preponderance beyond the limit",
        "gain_asymmetry": "Gain asymmetry beyond the limit",
        "both_ear_totals_below_6": (
            "Both ear totals below 6 deg/s (the caloric criterion of bilateral vestibulopathy)"
        ),
        "both_ear_totals_6_to_25_age_60_up": (
            "Both ear totals between 6 and 25 deg/s at age 60 or more"
            " (the caloric criterion of presbyvestibulopathy)"
        ),
        "low_ear_total": "One ear total low",
        "low_total_response": "Total response low",
        "large_response": "Large response of one ear",
        "fixation_index_above_limit": "Fixation index at or above the limit",
        "warm_screen_criteria_met": "The criteria of the warm screen are met",
        "warm_screen_criteria_not_met": "The criteria of the warm screen are not met",
        "undetermined": "Undetermined",
    },
    "criterion": {
        "unilateral_weakness": "unilateral weakness",
        "directional_preponderance": "directional preponderance",
        "gain_asymmetry": "gain asymmetry",
        "low_total_response": "total response",
        "low_ear_total": "ear total",
        "both_ear_totals_below_6": "larger of the two ear totals",
        "both_ear_totals_below_25": "larger of the two ear totals",
        "large_response": "larger of the two ear totals",
        "fixation_index_above_limit": "overall fixation index",
        "warm_screen_asymmetry": "warm asymmetry",
    },
    "assessment_reason": {
        "no_response": "there is no response in any irrigation",
        "sum_not_positive": "the responses add up to zero or less",
        "missing_irrigation": "an irrigation is missing",
        "monothermal": "only one temperature was given",
        "inverted_response": "a response beats against the expected direction",
        "unequal_set_temperature": "the two ears were given different set temperatures",
        "mixed_medium": "the two ears were given different media",
        "directions_unknown": "the directions are unknown and one may be against the expected",
        "unsteady_percentages": "the total response is too low for a steady percentage",
        "warm_screen_asymmetry": "the warm asymmetry is not below its limit",
        "warm_screen_response": "a warm response is not above its limit",
        "spontaneous_not_recorded": "spontaneous nystagmus was not recorded",
        "warm_screen_spontaneous": "spontaneous nystagmus is not below its limit",
        "otoscopy_not_clear": "both ears were not recorded as clear",
    },
    "finding": {
        "open_water_with_open_drum": "Safety: open water in an ear with an open drum",
        "temperature_out_of_tolerance": "Delivered temperature out of tolerance",
        "no_current_temperature_check": "No current temperature check",
        "after_failed_check": "The temperature check before it was out of tolerance",
        "before_failed_check": "The temperature check after it was out of tolerance",
        "unequal_set_temperature": "The ears were set to different temperatures",
        "mixed_medium": "More than one medium",
        "short_rest": "Short rest before it",
        "duration_out_of_tolerance": "Duration out of tolerance",
        "inverted_response": "The response beats against the expected direction",
        "opposite_to_expected_cause_unknown": (
            "The response beats against the expected direction, cause unknown"
        ),
        "labels_possibly_exchanged": "Labels possibly exchanged",
        "spontaneous_sign_suspect": "The sign of the spontaneous nystagmus is suspect",
        "reported_value_differs": "The printed figure differs from the one computed here",
        "peak_differs_from_beats": "The peak differs from its beats",
        "single_odd_response": "One response stands out",
        "counted_attempt_not_last": "An earlier attempt counts",
        "repeat_without_reason": "Repeat without a reason",
        "vertical_component_present": "Vertical component present",
        "incomplete": "Incomplete",
        "unsteady_percentages": "Percentages are unsteady",
    },
    "exchanged": {
        "ears": "the two ears",
        "temperatures": "the two temperatures of one ear (a perforated drum can do this too)",
        "all": "all four (the ears, warm and cool, or every sign turned)",
    },
    "media_differ": {
        "between_ears": "one temperature came to the two ears in different media",
        "between_temperatures": "warm and cool came in different media",
    },
    "reported_equals": {
        "equals_clamped": "it equals what setting negative peaks to zero would give",
        "equals_signs_dropped": "it equals what dropping the signs of the peaks would give",
        "equals_spontaneous_removed": (
            "it equals what taking out the spontaneous nystagmus would give"
        ),
        "equals_other_side": "it equals the figure here with the other side named",
    },
    "conflict": {
        "visit_changed": (
            "A visit with this code is already stored with other content. Nothing was changed."
            " To correct it, open it and amend it; for another visit, make a new visit code."
        ),
        "visit_withdrawn": (
            "The visit of this code was withdrawn. Nothing was changed. A test that is to count"
            " needs a new visit code."
        ),
        "visit_erased": (
            "The visit of this code was erased on request and may not come back. Nothing was"
            " stored."
        ),
        "subject_erased": (
            "The subject of this code was erased on request and may not come back. Nothing was"
            " stored."
        ),
    },
    "no_peak_reason": {
        "no_beats": "no beats were sent",
        "too_few_beats": "too few beats in any 10 s",
        "beats_too_fast": "beats faster than 200 deg/s on the mean",
    },
}
