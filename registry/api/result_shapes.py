"""What the registry computes of a visit, as JSON Schema."""

from __future__ import annotations

from typing import Final

from registry.api.field_schemas import (
    REFERENCE,
    Schema,
    list_of,
    nullable,
    number,
    object_of,
    text,
    whole,
    word_of,
    yes_no,
)
from registry.caloric import vocabulary as words
from registry.caloric.indices import NUMBERS

_FIXATION: Final = "fixation_index_"


def _numbers() -> dict[str, Schema]:
    return {
        name: nullable(number("Undefined is null, never 0."))
        for name in NUMBERS
        if not name.startswith(_FIXATION)
    }


_FIXATION_INDEX: Final = object_of(
    {
        name.removeprefix(_FIXATION): nullable(number("Ratio; undefined is null."))
        for name in NUMBERS
        if name.startswith(_FIXATION)
    },
    "By cell, by beat direction, and overall.",
)
_INDICES: Final = object_of(
    _numbers()
    | {
        "lower_side": nullable(word_of(words.SIDES)),
        "preponderance_direction": nullable(word_of(words.PREPONDERANCE_DIRECTIONS)),
        "undefined_reason": nullable(word_of(words.UNDEFINED_REASONS)),
        "fixation_index": _FIXATION_INDEX,
        "method_version": whole("Version of the formulas."),
    },
    "Totals in deg/s, the rest in % or as ratios. Weakness is right minus left: positive, the"
    " left side is lower. Preponderance is positive when right-beating. Not clipped.",
    required=("unilateral_weakness_percent", "undefined_reason", "method_version"),
)
_ASSESSMENT: Final = object_of(
    {
        "code": word_of(words.ASSESSMENTS),
        "criterion": nullable(text("Code of the limit compared with.")),
        "limit": nullable(number("Unrounded.")),
        "value": nullable(number("Unrounded.")),
        "source": nullable(text("Where the limit comes from.")),
        "inclusive": nullable(yes_no("Whether the limit itself meets the criterion.")),
        "reason": nullable(text("Why it is undetermined, or what part of a screen failed.")),
    },
    "What the indices say against one criterion.",
    required=("code",),
)
_FINDING: Final = object_of(
    {
        "code": word_of(words.FINDINGS),
        "irrigation": nullable(text("For example right_warm_2; null: the whole visit.")),
        "detail": nullable(text("A word of a fixed catalogue.")),
        "value": nullable(number("What was found.")),
        "limit": nullable(number("What it was compared with, in the same unit.")),
    },
    "How the test was done or entered, worth a reader's knowing.",
    required=("code", "irrigation", "detail", "value", "limit"),
)
_COMPUTED: Final = object_of(
    {
        "indices": {"$ref": REFERENCE + "Indices"},
        "indices_first_attempt": nullable({"$ref": REFERENCE + "Indices"}),
        "assessments": list_of("Assessment"),
        "findings": list_of("Finding"),
        "protocol_done": word_of(words.PROTOCOLS_DONE),
    },
    "Everything that is computed of one visit; nothing of it is stored.",
    required=("indices", "assessments", "findings"),
)
_COMPUTED_LIST: Final = object_of(
    {"results": list_of("Computed")}, "The same for each visit, in order.", required=("results",)
)

RESULT_SHAPES: Final[dict[str, Schema]] = {
    "Indices": _INDICES,
    "Assessment": _ASSESSMENT,
    "Finding": _FINDING,
    "Computed": _COMPUTED,
    "ComputedList": _COMPUTED_LIST,
    "ComputedOrList": {
        "oneOf": [{"$ref": REFERENCE + "Computed"}, {"$ref": REFERENCE + "ComputedList"}]
    },
}
