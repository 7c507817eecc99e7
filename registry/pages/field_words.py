"""Plain words for the codes that a visit, its devices, uploads and members are written with."""

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
WRITTEN: Final[Mapping[str, Words]] = {
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
}
