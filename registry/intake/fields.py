"""Every field a visit may hold: its kind, its limits and what it says, written once.

The checks, the columns of the tables, the blank templates and the published table schema are
all made from these lists, so a field cannot be allowed in one place and unknown in another.

Limits without a source beside them are common practice, no source: wide enough for any real
test, narrow enough to catch a slipped decimal point or a temperature in Fahrenheit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from registry.caloric import vocabulary as words

Kind = Literal["code", "word", "words", "number", "whole", "yes_no", "date", "time", "note"]

FASTEST_SPV: Final = 200.0
MOST_IRRIGATIONS: Final = 16
MOST_BEATS: Final = 1_000
LAST_BEAT_S: Final = 600.0
OLDEST_AGE_SENT: Final = 120
# Ages above 89 are pooled into one (45 CFR 164.514(b)(2)(i)(C)).
OLDEST_AGE_STORED: Final = 90


@dataclass(frozen=True, slots=True)
class Field:
    """One field. ``low`` and ``high`` belong to the range; ``unit`` is written in UCUM."""

    name: str
    kind: Kind
    about: str
    words: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    unit: str | None = None
    needed: bool = False


def _speed(name: str, about: str) -> Field:
    return Field(name, "number", about, low=-FASTEST_SPV, high=FASTEST_SPV, unit="deg/s")


def _word(name: str, allowed: tuple[str, ...], about: str, needed: bool = False) -> Field:
    return Field(name, "word", about, words=allowed, needed=needed)


def _code(name: str, about: str, needed: bool = False) -> Field:
    return Field(name, "code", about, needed=needed)


def _number(name: str, about: str, low: float, high: float, unit: str) -> Field:
    return Field(name, "number", about, low=low, high=high, unit=unit)


def _whole(name: str, about: str, low: int, high: int, needed: bool = False) -> Field:
    return Field(name, "whole", about, low=low, high=high, needed=needed)


VISIT_FIELDS: Final = (
    _code("visit_ref", "Random code of the visit, never derived from the person.", needed=True),
    _code("subject_ref", "Random code of the subject, never derived from the person.", needed=True),
    Field("visit_date", "date", "Day of the test, written YYYY-MM-DD.", needed=True),
    Field(
        "age_years",
        "whole",
        "Age in whole years; 90 and above are stored as 90.",
        low=0,
        high=OLDEST_AGE_SENT,
        unit="a",
        needed=True,
    ),
    _word("sex", words.SEXES, "Sex as recorded."),
    _word("visit_kind", words.VISIT_KINDS, "Why this visit took place."),
    _code("tester", "The clinic's code of who irrigated and recorded.", needed=True),
    _code("irrigator", "The clinic's code of the irrigator.", needed=True),
    _code("recorder", "The clinic's code of the recorder of the eyes."),
    _word("medium", words.MEDIA, "What carried the heat.", needed=True),
    _word("protocol_planned", words.PROTOCOLS_PLANNED, "What was planned; what was done is seen."),
    _number("head_elevation_deg", "Head above the horizontal while supine.", -90, 90, "deg"),
    _word("incomplete_reason", words.INCOMPLETE_REASONS, "Why the plan was not carried out."),
    _word("adverse_event", words.ADVERSE_EVENTS, "What happened to the subject."),
    _word("sign_convention", words.SIGN_CONVENTIONS, "How the speeds of this visit are signed."),
)

GROUPS: Final[dict[str, tuple[Field, ...]]] = {
    "spontaneous": (
        _speed("spv", "Spontaneous nystagmus before the first irrigation, right-beating positive."),
        _word("kind", words.SPONTANEOUS_KINDS, "Kind of spontaneous nystagmus."),
        _word("handling", words.SPONTANEOUS_HANDLINGS, "Whether the peaks sent hold it."),
    ),
    "otoscopy": (
        _word("right", words.OTOSCOPY, "The right ear, looked into before the test."),
        _word("left", words.OTOSCOPY, "The left ear, looked into before the test."),
    ),
    "background": (
        _word("referral_group", words.REFERRAL_GROUPS, "Why the subject was referred."),
        _word("onset_band", words.ONSET_BANDS, "Time since the complaint began."),
        _word("symptomatic_ear", words.SYMPTOMATIC_EARS, "Ear with complaints."),
        _word("suppressants_48h", words.SUPPRESSANTS, "Vestibular suppressants in 48 hours."),
    ),
    "recording": (
        _word("method", words.RECORDING_METHODS, "How the eyes were recorded."),
        _word("eye", words.RECORDED_EYES, "Which eye was recorded."),
        _word("vision_denied", words.VISION_DENIED, "How vision was denied."),
        _word("alerting", words.ALERTING, "Whether alerting tasks were given."),
    ),
    "reported": (
        _number("unilateral_weakness_percent", "As printed by the clinic's system.", 0, 1e6, "%"),
        _word("lower_side", words.SIDES, "Side printed as lower."),
        _number(
            "directional_preponderance_percent", "As printed by the clinic's system.", 0, 1e6, "%"
        ),
        _word("preponderance_direction", words.PREPONDERANCE_DIRECTIONS, "Direction printed."),
        _number("total_spv", "Sum of the peaks as printed.", 0, 4 * FASTEST_SPV, "deg/s"),
    ),
}

IRRIGATION_FIELDS: Final = (
    _word("ear", words.EARS, "Ear irrigated.", needed=True),
    _word("stimulus", words.STIMULI, "Warm, cool or ice.", needed=True),
    _whole("attempt", "1 for the first irrigation of a cell, 2 for its repeat.", 1, 16),
    _whole("order_in_visit", "Place among the irrigations of the visit, from 1.", 1, 99),
    Field("started_at", "time", "Onset of the irrigation, RFC 3339 with its offset from UTC."),
    _number("set_temperature_c", "Temperature set.", 0, 60, "Cel"),
    _number("measured_temperature_c", "Temperature measured.", 0, 60, "Cel"),
    _word("measured_by", words.MEASURED_BY, "What measured the temperature."),
    _number("duration_s", "How long the stimulus ran.", 1, 600, "s"),
    _number("volume_ml", "How much was delivered.", 0, 10_000, "mL"),
    _speed("peak_spv", "Slow-phase velocity at culmination."),
    _word("peak_basis", words.PEAK_BASES, "How the peak was taken from the recording."),
    _word("beat_direction", words.BEAT_DIRECTIONS, "Where the fast phase beat to."),
    _speed("pre_fixation_spv", "Slow-phase velocity just before fixation."),
    _speed("fixation_spv", "Slow-phase velocity with fixation."),
    _number("fixation_from_s", "Start of fixation after onset.", 0, LAST_BEAT_S, "s"),
    _number("fixation_to_s", "End of fixation after onset.", 0, LAST_BEAT_S, "s"),
    _speed("baseline_spv", "Nystagmus just before this irrigation, right-beating positive."),
    _word("vertical_component", words.VERTICAL_COMPONENTS, "Vertical nystagmus seen."),
    _word("position", words.POSITIONS, "Position of the subject."),
    Field("usable", "yes_no", "Whether the response can be used; true when not said."),
    Field(
        "unusable_reason",
        "words",
        "Why it cannot be used; in a table several are separated by |.",
        words=words.REPEAT_REASONS,
    ),
    _word("repeat_reason", words.REPEAT_REASONS, "Why this cell was irrigated again."),
    Field("counts", "yes_no", "Whether this attempt counts for its cell."),
    _whole("earlier_attempts_not_sent", "Attempts of this cell that are not sent.", 0, 15),
    _code("tester", "Who irrigated, where it was not the visit's tester."),
    _code("irrigator", "The irrigator, where it was not the visit's."),
    _word("medium", words.MEDIA, "What carried the heat, where it was not the visit's."),
    _code("peak_set_by", "The clinic's code of who set the peak."),
)
