"""A visit as it is sent and as it is answered, as JSON Schema."""

from __future__ import annotations

from typing import Final

from registry.api.field_schemas import (
    CODE_KINDS,
    REFERENCE,
    Schema,
    answered,
    identity,
    list_of,
    moment,
    nullable,
    number,
    object_of,
    sent,
    text,
    whole,
    word_of,
    yes_no,
)
from registry.caloric import vocabulary as words
from registry.intake.fields import (
    GROUPS,
    IRRIGATION_FIELDS,
    LAST_BEAT_S,
    MOST_BEATS,
    MOST_IRRIGATIONS,
    VISIT_FIELDS,
)
from registry.intake.guard import CODE_PATTERN

_BEATS: Final = object_of(
    {
        "time_s": list_of(
            {"type": "number", "minimum": 0, "maximum": LAST_BEAT_S},
            "From the onset of the irrigation, strictly increasing. Unit (UCUM): s.",
        )
        | {"maxItems": MOST_BEATS},
        "spv": list_of(
            {"type": "number", "minimum": -200, "maximum": 200},
            "Slow-phase velocity of each beat, signed as the peaks are. Unit (UCUM): deg/s.",
        )
        | {"maxItems": MOST_BEATS},
    },
    "Beat by beat; both lists are equally long.",
    required=("time_s", "spv"),
    closed=True,
)


def _groups(kind: str) -> dict[str, Schema]:
    return {name: nullable({"$ref": f"{REFERENCE}{name.capitalize()}{kind}"}) for name in GROUPS}


def _irrigations(kind: str) -> Schema:
    return list_of(f"Irrigation{kind}") | {"minItems": 1, "maxItems": MOST_IRRIGATIONS}


def _sent_visit(about: str, *, irrigation: str = "Sent", **more: Schema) -> Schema:
    return sent(
        VISIT_FIELDS,
        about,
        more=_groups("Sent") | {"irrigations": _irrigations(irrigation)} | more,
        needed=[*(field.name for field in VISIT_FIELDS if field.needed), "irrigations", *more],
    )


_RESPONSE: Final = object_of(
    {
        "irrigation": text("Cell and attempt, for example right_warm_1."),
        "counts": yes_no("Whether this attempt stands for its cell."),
        "peak_spv": nullable(number("Unit (UCUM): deg/s.")),
        "peak_basis": nullable(word_of(words.PEAK_BASES)),
        "computed_peak_spv": nullable(number("From the beats. Unit (UCUM): deg/s.")),
        "computed_peak_se": nullable(number("Standard error of it. Unit (UCUM): deg/s.")),
        "culmination_time_s": nullable(number("Unit (UCUM): s.")),
        "kept_beats": nullable(whole("How many beats took part.")),
        "no_peak_reason": nullable(text("Why the beats gave no peak.")),
    },
    "What was made of one irrigation.",
)

_ANSWERED: Final = object_of(
    {
        "id": identity("The registry's own id."),
        "clinic": text("Code of the clinic."),
        "version": whole("From 1; each amendment adds one.", minimum=1),
        "withdrawn": yes_no("Whether it was withdrawn."),
        "withdrawn_at": nullable(moment("When it was withdrawn.")),
        "received_at": nullable(moment("When it was received.")),
        "received_via": text("api, form or file."),
        "sign_convention_sent": word_of(words.SIGN_CONVENTIONS),
    }
    | answered(VISIT_FIELDS, "")["properties"]
    | {
        "visit_month": text("In the reduced view instead of the date: YYYY-MM."),
        "age_band": text("In the reduced view instead of the age: five years."),
        "from_clinic_default": list_of({"type": "string"}, "Fields the clinic's settings filled."),
        "directions_known": yes_no("Whether the beat directions were told."),
    }
    | _groups("")
    | {
        "irrigations": list_of("Irrigation"),
        "protocol_done": word_of(words.PROTOCOLS_DONE),
        "indices": {"$ref": REFERENCE + "Indices"},
        "indices_first_attempt": nullable({"$ref": REFERENCE + "Indices"}),
        "assessments": list_of("Assessment"),
        "criteria_set": object_of(
            {"name": text("Name of the set."), "version": whole("Its version.")},
            "The criteria that the assessments were made against.",
            required=("name", "version"),
        ),
        "findings": list_of("Finding"),
        "responses": list_of("Response"),
    },
    "A visit: what was sent, peaks signed expected-positive, and what is computed of it. In the"
    " reduced view without references, day and clock times; in a list without the beats.",
    required=("id", "clinic", "version", "indices", "assessments", "findings"),
)
_VERSION: Final = object_of(
    {
        "version": {"type": ["integer", "null"], "description": "Which version this was."},
        "superseded_at": nullable(moment("Until when it stood; null: it stands.")),
        "superseded_by": nullable(text("Who changed it.")),
        "amendment_reason": nullable(word_of(words.AMENDMENT_REASONS)),
        "visit": {"type": "object", "description": "The visit's columns as they stood."},
        "irrigations": list_of({"type": "object"}, "Its irrigations as they stood."),
        "result": {"type": ["object", "null"], "description": "What was computed of it then."},
    },
    "A visit as it once stood.",
    required=("version",),
)


def _bare(schema: Schema) -> Schema:
    """What may be computed on the spot: no code, no reference and no day is needed."""
    return schema | {"required": [name for name in schema["required"] if name == "irrigations"]}


VISIT_SHAPES: Final[dict[str, Schema]] = {
    **{
        f"{name.capitalize()}Sent": sent(fields, f"The {name} part of a visit.")
        for name, fields in GROUPS.items()
    },
    **{
        name.capitalize(): answered(fields, f"The {name} part of a visit.")
        for name, fields in GROUPS.items()
    },
    "Beats": _BEATS,
    "IrrigationSent": sent(
        IRRIGATION_FIELDS,
        "One irrigation. A set temperature is needed except for ice; a peak or beats are needed"
        " unless it is not usable.",
        more={"beats": nullable({"$ref": REFERENCE + "Beats"})},
    ),
    "Irrigation": answered(IRRIGATION_FIELDS, "One irrigation as stored.")
    | {"additionalProperties": True},
    "Response": _RESPONSE,
    "VisitSent": _sent_visit("A visit. Unknown fields are refused; no free text anywhere."),
    "VisitAmended": _sent_visit(
        "The whole visit as it should stand, and why.",
        amendment_reason=word_of(words.AMENDMENT_REASONS),
    ),
    "VisitToCompute": _bare(_sent_visit("A visit; only its irrigations are needed.")),
    "Visit": _ANSWERED,
    "VisitVersion": _VERSION,
    "VisitVersionList": object_of(
        {"results": list_of("VisitVersion", "The newest first.")}, "", required=("results",)
    ),
    "SubjectToErase": object_of(
        {"subject_ref": text("Whom to erase.", pattern=CODE_PATTERN)},
        "A subject's reference.",
        required=("subject_ref",),
        closed=True,
    ),
    "SubjectErased": object_of(
        {"visits_removed": whole("How many visits went with it.")},
        "What was removed.",
        required=("visits_removed",),
    ),
    "CodesWanted": object_of(
        {
            "kind": word_of(CODE_KINDS) | {"default": "subject"},
            "count": whole("How many.", minimum=1, maximum=1000, default=1),
        },
        "Which codes to make, and how many.",
        closed=True,
    ),
    "Codes": object_of(
        {"codes": list_of({"type": "string"}, "Random, each with a check character.")},
        "New codes; nothing is kept of them.",
        required=("codes",),
    ),
}
# The beats of an irrigation come with one visit and not in lists.
VISIT_SHAPES["Irrigation"]["properties"]["beats"] = nullable({"$ref": REFERENCE + "Beats"})
