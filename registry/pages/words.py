"""Plain words for every code a page may have to show: the one catalogue.

Ears, directions and temperatures are said in words, never by a colour or a bare sign. The
wording states what was measured or done; it names no disease and calls nothing normal.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

Words = Mapping[str, str]

_REPEAT_REASONS: Final[Words] = {
    "eyes_closed": "eyes closed",
    "low_alertness": "subject not alert",
    "delivery_interrupted": "delivery interrupted",
    "canal_obstructed": "ear canal obstructed",
    "temperature_fault": "temperature at fault",
    "recording_fault": "recording at fault",
    "weak_response": "weak response",
    "first_response_check": "check of the first response",
    "asymmetry_check": "check of an asymmetry",
    "opposite_direction_check": "check of a response in the opposite direction",
    "registry_suggested": "suggested by the registry",
    "other": "another reason",
}
_EARS: Final[Words] = {"right": "right ear", "left": "left ear"}
_SIDES: Final[Words] = {
    "left": "lower on the left",
    "right": "lower on the right",
    "none": "neither side lower",
}
_BEATING: Final[Words] = {
    "right_beating": "right-beating",
    "left_beating": "left-beating",
    "none": "neither direction",
}
_OTOSCOPY: Final[Words] = {
    "clear": "clear",
    "wax_partial": "some wax",
    "wax_removed_today": "wax removed today",
    "perforation": "perforated drum",
    "ventilation_tube": "ventilation tube in the drum",
    "cavity_or_surgery": "open cavity or operated ear",
    "narrow_canal": "narrow ear canal",
    "effusion": "fluid behind the drum",
}

# By the name of the field as a visit holds it; the nested ones joined by a dot.
FIELD_WORDS: Final[Mapping[str, Words]] = {
    "sex": {"female": "female", "male": "male", "other": "other", "unknown": "unknown"},
    "visit_kind": {
        "first": "first visit",
        "follow_up": "follow-up",
        "repeat_of_unusable": "repeat of an unusable test",
        "volunteer": "volunteer",
        "training": "training (kept out of every statistic)",
    },
    "medium": {
        "air": "air",
        "water_open": "water, open flow",
        "water_closed": "water, closed loop",
    },
    "protocol_planned": {
        "bithermal": "warm and cool, both ears",
        "monothermal_warm": "warm only, both ears",
        "monothermal_cool": "cool only, both ears",
        "ice_only": "ice only",
    },
    "protocol_done": {
        "bithermal": "warm and cool, both ears",
        "monothermal_warm": "warm only, both ears",
        "monothermal_cool": "cool only, both ears",
        "ice_only": "ice only",
        "partial": "part of a protocol",
        "nothing_usable": "no usable response",
    },
    "incomplete_reason": {
        "screen_met": "the screening criteria were met",
        "nausea_or_vomiting": "nausea or vomiting",
        "declined": "the subject declined to go on",
        "ear_contraindication": "an ear ruled it out",
        "equipment": "equipment",
        "time": "no time left",
        "safety_stop": "stopped for safety",
        "other": "another reason",
    },
    "adverse_event": {
        "none": "none",
        "vomiting": "vomiting",
        "fainting": "fainting",
        "pain_or_burn": "pain or burn",
        "bleeding_or_drum": "bleeding, or damage to the drum",
        "fall": "fall",
        "other": "another event",
    },
    "sign_convention": {
        "expected_positive": "positive in the expected direction",
        "right_beating_positive": "positive when beating right",
        "slow_phase_right_positive": "positive when the slow phase goes right",
        "unsigned": "magnitudes without a sign",
    },
    "spontaneous.kind": {
        "none": "none seen",
        "steady_horizontal": "steady, horizontal",
        "direction_changing": "direction-changing",
        "vertical": "vertical",
        "lifelong": "present from birth or early life",
    },
    "spontaneous.handling": {
        "not_removed": "still in the peaks",
        "removed": "already taken out of the peaks",
        "unknown": "not known whether the peaks hold it",
    },
    "otoscopy.right": _OTOSCOPY,
    "otoscopy.left": _OTOSCOPY,
    "background.referral_group": {
        "first_acute_episode": "first acute episode",
        "recurrent_episodes": "recurrent episodes",
        "persistent_imbalance": "persistent imbalance",
        "hearing_asymmetry_pathway": "referred for a hearing asymmetry",
        "ototoxicity_monitoring": "watched during treatment that may harm the ear",
        "pre_or_post_procedure": "before or after a procedure",
        "volunteer": "volunteer",
        "other": "another reason",
    },
    "background.onset_band": {
        "le7d": "up to 7 days ago",
        "8_30d": "8 to 30 days ago",
        "1_6mo": "1 to 6 months ago",
        "gt6mo": "more than 6 months ago",
    },
    "background.symptomatic_ear": {
        "right": "right ear",
        "left": "left ear",
        "both": "both ears",
        "neither": "neither ear",
    },
    "background.suppressants_48h": {
        "none": "none taken",
        "taken": "taken",
        "not_asked": "not asked",
    },
    "recording.method": {
        "video": "video",
        "electrode": "electrodes",
        "observed_only": "observed only, not recorded",
    },
    "recording.eye": {"right": "right eye", "left": "left eye", "both": "both eyes"},
    "recording.vision_denied": {
        "covered": "eyes covered",
        "dark_open": "eyes open in the dark",
        "closed": "eyes closed",
    },
    "recording.alerting": {"given": "given", "not_given": "not given"},
    "reported.lower_side": _SIDES,
    "reported.preponderance_direction": _BEATING,
    "ear": _EARS,
    "stimulus": {"warm": "warm", "cool": "cool", "ice": "ice"},
    "measured_by": {
        "reference_thermometer": "reference thermometer",
        "irrigator_display": "display of the irrigator",
    },
    "peak_basis": {
        "single_beat": "one beat",
        "mean_3_beats": "mean of 3 beats",
        "mean_5s": "mean over 5 s",
        "mean_10s": "mean over 10 s",
        "fitted": "fitted curve",
        "device_unstated": "chosen by the device, method not stated",
        "computed_v1": "computed here from the beats (method 1)",
    },
    "beat_direction": {"right": "beating right", "left": "beating left"},
    "vertical_component": {
        "none": "none seen",
        "up_beating": "up-beating",
        "down_beating": "down-beating",
    },
    "position": {
        "supine_head_up": "on the back, head raised",
        "prone": "face down",
        "sitting": "sitting",
    },
    "unusable_reason": _REPEAT_REASONS,
    "repeat_reason": _REPEAT_REASONS,
    "usable": {"true": "yes", "false": "no"},
    "counts": {"true": "yes", "false": "no"},
    "lower_side": _SIDES,
    "preponderance_direction": _BEATING,
    "amendment_reason": {
        "entry_error": "error of entry",
        "ears_swapped": "ears had been exchanged",
        "temperatures_swapped": "temperatures had been exchanged",
        "direction_corrected": "a direction was corrected",
        "peak_reselected": "a peak was chosen anew",
        "attempt_choice_changed": "another attempt counts",
        "late_result": "a result came late",
        "reviewed": "reviewed",
    },
    "experience_band": {
        "trainee": "in training",
        "lt1y": "less than 1 year",
        "1_5y": "1 to 5 years",
        "gt5y": "more than 5 years",
    },
    "measured_at": {
        "nozzle": "at the nozzle",
        "cup": "in a cup",
        "display": "on the display",
    },
    "phase": {"as_found": "as found", "as_left": "as left after adjusting"},
    "action": {
        "none": "none",
        "adjusted": "adjusted",
        "removed": "taken out of use",
        "serviced": "serviced",
    },
    "equipment_event": {
        "calibrated": "calibrated",
        "serviced": "serviced",
        "nozzle_changed": "nozzle changed",
        "moved": "moved",
        "software_updated": "software updated",
        "replaced": "replaced",
    },
    "role": {
        "uploader": "uploader",
        "coordinator": "coordinator",
        "tester": "tester",
        "site_lead": "site lead",
        "lead": "lead audiologist",
        "researcher": "researcher",
        "operator": "operator",
    },
    "upload_state": {
        "received": "received, waiting to be read",
        "reading": "being read",
        "storing": "being stored",
        "finished": "finished",
        "refused": "refused: nothing was stored",
        "failed": "failed: nothing more will happen, send it again",
        "cancelled": "cancelled",
    },
    "upload_policy": {
        "keep_valid": "keep the visits that have no problem",
        "all_or_nothing": "keep nothing unless every visit is without a problem",
    },
    "received_via": {
        "api": "sent by a program",
        "form": "entered on the form",
        "file": "from a file",
    },
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
        "all": "all four: perhaps every sign was turned",
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
    },
}

INDEX_NAMES: Final[Words] = {
    "unilateral_weakness_percent": "unilateral weakness",
    "directional_preponderance_percent": "directional preponderance",
    "total_spv": "total response",
}

NOT_RECORDED: Final = "not recorded"


def say(field: str, code: object) -> str:
    """Words for a code of a field; "not recorded" for nothing.

    A code without words, which only a newer version could have stored, is shown with its
    underscores opened rather than hidden.
    """
    if code is None or code == "":
        return NOT_RECORDED
    text = str(code).lower() if isinstance(code, bool) else str(code)
    return FIELD_WORDS.get(field, {}).get(text) or text.replace("_", " ")


def irrigation_name(name: object) -> str:
    """``right_warm_2`` as "right ear, warm, attempt 2"; "the whole visit" for nothing."""
    if not name:
        return "the whole visit"
    ear, stimulus, attempt = str(name).rsplit("_", 2)
    said = f"{say('ear', ear)}, {stimulus}"
    return said if attempt == "1" else f"{said}, attempt {attempt}"
