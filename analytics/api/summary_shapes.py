"""The figures of a tester, an irrigator or a clinic, as JSON Schema."""

from __future__ import annotations

from typing import Final

from analytics.api.shape_parts import CLINIC_CODE, COVERS, STALE, all_of, any_object, day, word
from analytics.models.signal import SUBJECTS, TIERS
from registry.api.field_schemas import (
    REFERENCE,
    Schema,
    identity,
    list_of,
    moment,
    nullable,
    number,
    text,
    whole,
    yes_no,
)

_COMPARED: Final = all_of(
    {
        "expected": nullable(number("Where the network is, in the unit of the measure.")),
        "shrunken": nullable(
            number("The value drawn towards the network by how little it rests on.")
        ),
        "z_level": nullable(number("Distance from the network, in standard errors.")),
        "z_change": nullable(any_object("Distance from the own past by months of the window.")),
        "smallest_level": nullable(number("The smallest difference that could have been seen.")),
        "smallest_change": nullable(any_object("The same for a change, by months of the window.")),
        "reason": nullable(text("Why it is not compared with the network.")),
        "reason_change": nullable(text("Why it is not compared with the own past.")),
        "tier": nullable(word("What is open now.", TIERS)),
    },
    "How a subject compares, as the last evaluation of the network found it.",
)
_MEASURE_FIGURES: Final = all_of(
    {
        "id": text("Id of the measure."),
        "title": text("Its title."),
        "group": text("Its group."),
        "kind": word("What the value is.", ("mean", "share")),
        "unit": text("Unit of the value or of the occasions."),
        "direction": word("Which direction matters.", ("both", "higher", "lower")),
        "minimum_visits": whole("From how many visits on a value is shown."),
        "n": number("Visits, or occasions of a share, of the last twelve months."),
        "too_few": yes_no("Too few for a value: nothing can be said, neither way."),
        "value": nullable(number("Of the last twelve months.")),
        "low": nullable(number("Lower end of its 95 % interval.")),
        "high": nullable(number("Upper end of its 95 % interval.")),
        "like_for_like": nullable(number("The value less what the patients' mix adds.")),
        "by_month": all_of(
            {
                "n": list_of({"type": "number"}),
                "value": list_of({"type": ["number", "null"]}),
            },
            "One a month, in the order of months.",
        ),
        "compared": {"$ref": REFERENCE + "Compared"},
    },
    "One measure of one subject.",
)
_SHARE: Final = all_of(
    {
        "id": identity("Its id."),
        "code": nullable(text("Its code at the clinic.")),
        "visits": whole("Visits of the last twelve months.", minimum=0),
    },
    "With whom or what visits were done.",
)
_STRATUM: Final = all_of(
    {
        "code": text("What is comparable: medium and basis of the peaks."),
        "visits": whole("Visits of the last twelve months.", minimum=0),
    },
    "Visits that may be compared with each other.",
)


def _summary(about: str, more: dict[str, Schema]) -> Schema:
    properties = {
        "subject": all_of(
            {
                "kind": word("What it is.", SUBJECTS),
                "id": identity("Its id."),
                "code": text("Its code."),
                "clinic": CLINIC_CODE,
            },
            "Whose figures these are.",
        ),
        "built_at": nullable(moment("When the figures were made; null before the first time.")),
        "covers_until": COVERS,
        "stale": STALE,
        "months": list_of(day("First day of a month."), "Oldest first."),
        "visits": list_of({"type": "integer"}, "Visits by month."),
        "measures": list_of("MeasureFigures", "In the order of the catalogue."),
        "irrigators": list_of("Share"),
        "recorders": list_of("Share"),
        "strata": list_of("Stratum"),
    }
    return all_of(properties | more, about)


_TESTERS: Final = {"testers": list_of("Share")}
SUMMARY_SHAPES: Final[dict[str, Schema]] = {
    "Compared": _COMPARED,
    "MeasureFigures": _MEASURE_FIGURES,
    "Share": _SHARE,
    "Stratum": _STRATUM,
    "TesterSummary": _summary(
        "The figures of a tester.",
        {
            "repeats": nullable(any_object("Irrigations done again, by reason.")),
            "digits": nullable(any_object("Last digits of the peaks.")),
            "retests": nullable(any_object("Visits seen again within 90 days.")),
            "stand_outs": nullable(whole("Visits whose record deserves a second look.")),
        },
    ),
    "IrrigatorSummary": _summary(
        "The figures of an irrigator.",
        _TESTERS
        | {
            "checks": list_of(any_object("Readings of a stimulus.")),
            "drift": list_of(any_object("How readings of a stimulus moved.")),
            "look_backs": whole("Checks out of tolerance that tests were looked back from."),
        },
    ),
    "ClinicSummary": _summary("The figures of a clinic.", _TESTERS),
}
