"""What each field is called on a form, and a hint where the name alone could be misread."""

from __future__ import annotations

from typing import Final

LABELS: Final[dict[str, str]] = {
    "visit_ref": "Visit code",
    "subject_ref": "Subject code",
    "visit_date": "Date of the visit",
    "age_years": "Age",
    "sex": "Sex",
    "visit_kind": "Kind of visit",
    "tester": "Tester",
    "irrigator": "Irrigator",
    "recorder": "Recorder",
    "medium": "Medium",
    "protocol_planned": "Planned",
    "head_elevation_deg": "Head above the horizontal",
    "incomplete_reason": "Why the plan was not finished",
    "adverse_event": "Adverse event",
    "sign_convention": "Signs of the speeds entered",
    "spontaneous.spv": "Speed",
    "spontaneous.kind": "Kind",
    "spontaneous.handling": "In the peaks",
    "otoscopy.right": "Right ear",
    "otoscopy.left": "Left ear",
    "background.referral_group": "Referred for",
    "background.onset_band": "Complaint began",
    "background.symptomatic_ear": "Ear with complaints",
    "background.suppressants_48h": "Vestibular suppressants in 48 hours",
    "recording.method": "Recorded by",
    "recording.eye": "Eye recorded",
    "recording.vision_denied": "Vision denied",
    "recording.alerting": "Alerting tasks",
    "reported.unilateral_weakness_percent": "Unilateral weakness printed",
    "reported.lower_side": "Side printed as lower",
    "reported.directional_preponderance_percent": "Directional preponderance printed",
    "reported.preponderance_direction": "Direction printed",
    "reported.total_spv": "Total printed",
    "ear": "Ear",
    "stimulus": "Stimulus",
    "attempt": "Attempt",
    "order_in_visit": "Place in the visit",
    "started_at": "Started at",
    "set_temperature_c": "Temperature set",
    "measured_temperature_c": "Temperature measured",
    "measured_by": "Measured by",
    "duration_s": "Duration",
    "volume_ml": "Volume",
    "peak_spv": "Peak speed",
    "peak_basis": "How the peak was taken",
    "beat_direction": "Direction of the beat",
    "pre_fixation_spv": "Just before fixation",
    "fixation_spv": "With fixation",
    "fixation_from_s": "Fixation from",
    "fixation_to_s": "Fixation to",
    "baseline_spv": "Nystagmus just before",
    "vertical_component": "Vertical component",
    "position": "Position",
    "usable": "Usable",
    "unusable_reason": "Why not usable",
    "repeat_reason": "Why repeated",
    "counts": "This attempt counts",
    "earlier_attempts_not_sent": "Earlier attempts not sent",
    "peak_set_by": "Peak set by",
    "warm_temperature_c": "Warm, set temperature",
    "cool_temperature_c": "Cool, set temperature",
    "amendment_reason": "Reason of the amendment",
    "code": "Code",
    "experience_band": "Experience",
    "active_from": "First day",
    "active_to": "Last day",
    "in_service_from": "In service from",
    "retired_at": "Last day in service",
    "calibration_due": "Calibration due",
    "uncertainty_c": "Uncertainty",
    "checked_at": "When",
    "reading_c": "Reading",
    "thermometer": "Thermometer",
    "measured_at": "Where",
    "phase": "Before or after adjusting",
    "action": "What was done",
    "flow_l_min": "Flow",
    "ambient_c": "Temperature of the room",
    "clinic": "Clinic",
    "from": "From",
    "to": "To",
    "finding": "Finding",
    "assessment": "Criterion",
    "withdrawn": "Withdrawn",
    "irrigations": "Irrigations",
    "spontaneous": "Spontaneous nystagmus",
    "otoscopy": "Otoscopy",
    "background": "Background",
    "recording": "Recording",
    "reported": "Printed figures",
}

HINTS: Final[dict[str, str]] = {
    "visit_ref": "Random, never from a record number, name or birth date.",
    "subject_ref": "The same code each time this subject comes.",
    "visit_date": "Year, month, day.",
    "age_years": "90 and above are kept as 90.",
    "spontaneous.spv": "Right-beating positive, left-beating negative. Leave blank if unknown.",
    "sign_convention": "One answer for all speeds of responses below.",
    "peak_spv": "Signed as said above.",
    "attempt": "1, or 2 for the first repeat.",
    "earlier_attempts_not_sent": "How many.",
    "baseline_spv": "Right-beating positive.",
    "order_in_visit": "1 for the first irrigation.",
    "counts": "Leave blank: the last usable attempt counts.",
    "warm_temperature_c": "Used where an irrigation below leaves it blank.",
    "cool_temperature_c": "Used where an irrigation below leaves it blank.",
    "checked_at": "Leave blank for now.",
    "code": "3 to 40 letters, digits, dots, hyphens; never a name or serial number.",
}

UNITS: Final[dict[str, str]] = {"Cel": "°C", "a": "years", "deg": "degrees"}


def label_of(name: str) -> str:
    """The label of a field by its name, or by its last part within an irrigation."""
    last = name.rpartition(".")[2]
    return LABELS.get(name) or LABELS.get(last) or last.replace("_", " ")


def hint_of(name: str) -> str:
    return HINTS.get(name, "")


def unit_words(unit: str | None) -> str:
    """A UCUM unit as it is read on a page."""
    return UNITS.get(unit or "", unit or "")
