"""The words of a caloric visit that come from a closed list.

Each list is written once here. The checks of the intake, the constraints of the
database, the schema of the API and the forms all read these tuples, so that no
two of them can disagree about what may be sent.
"""

from __future__ import annotations

from typing import Final, Literal, get_args

Ear = Literal["right", "left"]
Stimulus = Literal["warm", "cool", "ice"]
Cell = Literal["right_warm", "left_warm", "right_cool", "left_cool"]
BeatDirection = Literal["right", "left"]
Side = Literal["left", "right", "none"]
PreponderanceDirection = Literal["right_beating", "left_beating", "none"]
SignConvention = Literal[
    "expected_positive", "right_beating_positive", "slow_phase_right_positive", "unsigned"
]
SpontaneousKind = Literal["none", "steady_horizontal", "direction_changing", "vertical", "lifelong"]
SpontaneousHandling = Literal["not_removed", "removed", "unknown"]
UndefinedReason = Literal["no_response", "sum_not_positive", "missing_irrigation", "monothermal"]

EARS: Final[tuple[str, ...]] = get_args(Ear)
STIMULI: Final[tuple[str, ...]] = get_args(Stimulus)
CELLS: Final[tuple[str, ...]] = get_args(Cell)
BEAT_DIRECTIONS: Final[tuple[str, ...]] = get_args(BeatDirection)
SIDES: Final[tuple[str, ...]] = get_args(Side)
PREPONDERANCE_DIRECTIONS: Final[tuple[str, ...]] = get_args(PreponderanceDirection)
SIGN_CONVENTIONS: Final[tuple[str, ...]] = get_args(SignConvention)
SPONTANEOUS_KINDS: Final[tuple[str, ...]] = get_args(SpontaneousKind)
SPONTANEOUS_HANDLINGS: Final[tuple[str, ...]] = get_args(SpontaneousHandling)
UNDEFINED_REASONS: Final[tuple[str, ...]] = get_args(UndefinedReason)

SEXES: Final = ("female", "male", "other", "unknown")
VISIT_KINDS: Final = ("first", "follow_up", "repeat_of_unusable", "volunteer", "training")
MEDIA: Final = ("air", "water_open", "water_closed")
PROTOCOLS_PLANNED: Final = ("bithermal", "monothermal_warm", "monothermal_cool", "ice_only")
# What is there when neither a whole protocol nor nothing was done is "partial".
PROTOCOLS_DONE: Final = (*PROTOCOLS_PLANNED, "partial", "nothing_usable")
INCOMPLETE_REASONS: Final = (
    "screen_met",
    "nausea_or_vomiting",
    "declined",
    "ear_contraindication",
    "equipment",
    "time",
    "safety_stop",
    "other",
)
ADVERSE_EVENTS: Final = (
    "none",
    "vomiting",
    "fainting",
    "pain_or_burn",
    "bleeding_or_drum",
    "fall",
    "other",
)
OTOSCOPY: Final = (
    "clear",
    "wax_partial",
    "wax_removed_today",
    "perforation",
    "ventilation_tube",
    "cavity_or_surgery",
    "narrow_canal",
    "effusion",
)
# An ear in one of these states must never meet open water.
OPEN_DRUM: Final = ("perforation", "ventilation_tube", "cavity_or_surgery")
REFERRAL_GROUPS: Final = (
    "first_acute_episode",
    "recurrent_episodes",
    "persistent_imbalance",
    "hearing_asymmetry_pathway",
    "ototoxicity_monitoring",
    "pre_or_post_procedure",
    "volunteer",
    "other",
)
ONSET_BANDS: Final = ("le7d", "8_30d", "1_6mo", "gt6mo")
SYMPTOMATIC_EARS: Final = ("right", "left", "both", "neither")
SUPPRESSANTS: Final = ("none", "taken", "not_asked")
RECORDING_METHODS: Final = ("video", "electrode", "observed_only")
RECORDED_EYES: Final = ("right", "left", "both")
VISION_DENIED: Final = ("covered", "dark_open", "closed")
ALERTING: Final = ("given", "not_given")
MEASURED_BY: Final = ("reference_thermometer", "irrigator_display")
POSITIONS: Final = ("supine_head_up", "prone", "sitting")
VERTICAL_COMPONENTS: Final = ("none", "up_beating", "down_beating")
PEAK_BASES_SENT: Final = (
    "single_beat",
    "mean_3_beats",
    "mean_5s",
    "mean_10s",
    "fitted",
    "device_unstated",
)
PEAK_BASES: Final = (*PEAK_BASES_SENT, "computed_v1")
REPEAT_REASONS_AVOIDABLE: Final = (
    "eyes_closed",
    "low_alertness",
    "delivery_interrupted",
    "canal_obstructed",
    "temperature_fault",
    "recording_fault",
)
REPEAT_REASONS_INDICATED: Final = (
    "weak_response",
    "first_response_check",
    "asymmetry_check",
    "opposite_direction_check",
    "registry_suggested",
)
REPEAT_REASONS: Final = (*REPEAT_REASONS_AVOIDABLE, *REPEAT_REASONS_INDICATED, "other")

ASSESSMENTS: Final = (
    "no_criterion_met",
    "unilateral_weakness",
    "directional_preponderance",
    "gain_asymmetry",
    "both_ear_totals_below_6",
    "both_ear_totals_6_to_25_age_60_up",
    "low_ear_total",
    "low_total_response",
    "large_response",
    "fixation_index_above_limit",
    "warm_screen_criteria_met",
    "warm_screen_criteria_not_met",
    "undetermined",
)
FINDINGS: Final = (
    "open_water_with_open_drum",  # a safety finding: first here, first on every page
    "temperature_out_of_tolerance",
    "no_current_temperature_check",
    "after_failed_check",
    "before_failed_check",
    "unequal_set_temperature",
    "mixed_medium",
    "short_rest",
    "duration_out_of_tolerance",
    "inverted_response",
    "opposite_to_expected_cause_unknown",
    "labels_possibly_exchanged",
    "spontaneous_sign_suspect",
    "reported_value_differs",
    "peak_differs_from_beats",
    "single_odd_response",
    "counted_attempt_not_last",
    "repeat_without_reason",
    "vertical_component_present",
    "incomplete",
    "unsteady_percentages",
)
AMENDMENT_REASONS: Final = (
    "entry_error",
    "ears_swapped",
    "temperatures_swapped",
    "direction_corrected",
    "peak_reselected",
    "attempt_choice_changed",
    "late_result",
    "reviewed",
)
EXPERIENCE_BANDS: Final = ("trainee", "lt1y", "1_5y", "gt5y")
CHECK_PLACES: Final = ("nozzle", "cup", "display")
CHECK_PHASES: Final = ("as_found", "as_left")
CHECK_ACTIONS: Final = ("none", "adjusted", "removed", "serviced")
EQUIPMENT_EVENTS: Final = (
    "calibrated",
    "serviced",
    "nozzle_changed",
    "moved",
    "software_updated",
    "replaced",
)
