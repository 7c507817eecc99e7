"""What the consistency engine sends and takes, as JSON Schema by name."""

from __future__ import annotations

from typing import Final

from analytics.api.shape_parts import CLINIC_CODE, COVERS, STALE, all_of, any_object, day
from analytics.api.signal_shapes import SIGNAL_SHAPES
from analytics.api.summary_shapes import SUMMARY_SHAPES
from analytics.api.visit_shapes import CHECKED_VISIT_SHAPES
from registry.api.field_schemas import Schema, identity, list_of, moment, number, text, whole
from registry.api.shapes import page_of_items

_TEXT_LIST: Final = list_of({"type": "string"})
_MEASURE: Final = all_of(
    {
        **{
            name: text(about)
            for name, about in (
                ("id", "Permanent id."),
                ("title", "Short title."),
                ("about", "What it says, in a sentence."),
                ("group", "Results, work or equipment."),
                ("grain", "What one occasion is."),
                ("kind", "Mean of a score a visit, or share of occasions."),
                ("unit", "Unit of the value or of the occasions."),
                ("shown_as", "How a value is written."),
                ("direction", "Which direction matters."),
                ("method", "How it is computed."),
                ("source", "Where it comes from."),
                ("standing", "Whether that is published, derived or common practice."),
                ("reviewer", "Who reviewed it."),
                ("numerator", "Events of a share."),
                ("denominator", "Occasions of a share."),
                ("value", "What is averaged of a mean."),
                ("scale", "The scale of a mean."),
            )
        },
        "minimum_visits": whole("From how many visits on a value is shown."),
        "subjects": _TEXT_LIST,
        "case_mix": _TEXT_LIST,
        "cap_change": number("Standard errors beyond which a change is put up for review."),
        "cap_level": number("Standard errors beyond which a difference is put up for review."),
        "reviewed_on": day("When it was last reviewed."),
        "review_by": day("When it is to be reviewed again."),
    },
    "One measure of the catalogue.",
)

ANALYTICS_SHAPES: Final[dict[str, Schema]] = {
    **SUMMARY_SHAPES,
    **SIGNAL_SHAPES,
    **CHECKED_VISIT_SHAPES,
    "Measure": _MEASURE,
    "MeasureList": all_of({"results": list_of("Measure")}, "The catalogue, in its order."),
    "Clinic": all_of(
        {
            "id": identity("The registry's own id."),
            "code": CLINIC_CODE,
            "name": text("Its name."),
        },
        "A clinic.",
    ),
    "ClinicPage": page_of_items("Clinic"),
    "Dashboard": all_of(
        {
            "name": text("Its name."),
            "about": text("The measure or subject it is about; empty for the network."),
            "figures": any_object("Plotly figures with their tables, by name."),
            "facts": any_object("Figures in words."),
            "built_at": moment("When it was made."),
            "covers_until": COVERS,
            "stale": STALE,
        },
        "Figures made ahead.",
    ),
}
