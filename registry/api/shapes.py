"""Every body of the API as JSON Schema, by name.

Made from the same lists that the checks read, so that the document cannot promise a field
that is refused.
"""

from __future__ import annotations

from typing import Final

from registry.api.field_schemas import (
    REFERENCE,
    Schema,
    answered,
    identity,
    list_of,
    moment,
    nullable,
    object_of,
    sent,
    text,
    whole,
    word_components,
    yes_no,
)
from registry.api.result_shapes import RESULT_SHAPES
from registry.api.upload_shapes import UPLOAD_SHAPES
from registry.api.visit_shapes import VISIT_SHAPES
from registry.roster.fields import CHECK_FIELDS, DEVICE_FIELDS, EVENT_FIELDS, TESTER_FIELDS

__all__ = ["COMPONENTS", "REFERENCE", "Schema", "page_of_items"]


def page_of_items(item: str) -> Schema:
    """The shape of a page of a list."""
    return object_of(
        {
            "results": list_of(item),
            "next": nullable(text("Address of the next page.", format="uri")),
            "previous": nullable(text("Address of the page before.", format="uri")),
        },
        "A page of a list in a total order.",
        required=("results", "next", "previous"),
    )


_ERROR: Final = object_of(
    {
        "pointer": text("RFC 6901 pointer into the body, or to the parameter."),
        "code": text("A code of the catalogue."),
        "detail": text("The fixed sentence of the code; never what was sent."),
        "position": whole("Place, from 1, of a field whose name is not known."),
        "row": whole("Row of a file, from 1, the header included."),
        "column": {"type": ["string", "integer"], "description": "Column of a file."},
    },
    "One thing that is wrong.",
    required=("pointer", "code", "detail"),
)
_PROBLEM: Final = object_of(
    {
        "type": text("Always about:blank; code says more."),
        "title": text("The phrase of the status."),
        "status": whole("The status of the answer."),
        "code": text("A code of the catalogue."),
        "detail": text("The fixed sentence of the code."),
        "request_id": text("Name it when you ask the operator."),
        "errors": list_of("Error", "Everything that is wrong, at once."),
        "errors_not_shown": whole("How many more there are."),
        "visit_id": identity("The visit that stands in the way."),
    },
    "A problem (RFC 9457).",
    required=("type", "title", "status", "code", "detail", "request_id"),
)

_KEPT: Final = {"id": identity("The registry's own id."), "created_at": moment("When added.")}
_DEVICE: Final = answered(DEVICE_FIELDS, "A recorder or thermometer.", more=_KEPT)
_IRRIGATOR: Final = answered(
    DEVICE_FIELDS,
    "An irrigator.",
    more=_KEPT
    | {
        "out_of_use_since": nullable(moment("The second reading in a row out of tolerance.")),
        "out_of_use_because": nullable(text("What was measured.")),
    },
)
_CHECK: Final = answered(
    CHECK_FIELDS,
    "A reading and what the registry made of it.",
    more={
        "id": identity("The registry's own id."),
        "tolerance_c": {"type": "number", "description": "The tolerance used. Unit (UCUM): Cel."},
        "within_tolerance": yes_no("Decided by the registry; the limit itself is within."),
        "recorded_at": moment("When it was recorded."),
        "withdrawn_at": nullable(moment("When it was withdrawn.")),
    },
)
_RECORDED_CHECK: Final = answered(
    (),
    "A recorded reading and what it means for its irrigator.",
    more={
        "check": {"$ref": REFERENCE + "TemperatureCheck"},
        "confirming_reading_needed": yes_no(
            "The first reading out of tolerance in its series: a second one decides."
        ),
        "irrigator_out_of_use_since": nullable(moment("From the second reading in a row.")),
        "irrigator_out_of_use_because": nullable(text("What was measured.")),
    },
)
_EVENT: Final = answered(
    EVENT_FIELDS,
    "Something done to a device.",
    more={"id": identity("The registry's own id."), "recorded_at": moment("When recorded.")},
)


def _change(fields: tuple[object, ...], about: str) -> Schema:
    changeable = [field for field in fields if getattr(field, "name", "") != "code"]
    return sent(changeable, about, needed=())  # type: ignore[arg-type]


_ROSTER: Final[dict[str, Schema]] = {
    "NewTester": sent(TESTER_FIELDS, "A tester, known only by a code."),
    "TesterChange": _change(TESTER_FIELDS, "What to change; null empties a field."),
    "Tester": answered(TESTER_FIELDS, "A tester.", more=_KEPT),
    "TesterPage": page_of_items("Tester"),
    "NewDevice": sent(DEVICE_FIELDS, "A device, known by its label."),
    "DeviceChange": _change(DEVICE_FIELDS, "What to change; null empties a field."),
    "Device": _DEVICE,
    "DevicePage": page_of_items("Device"),
    "Irrigator": _IRRIGATOR,
    "IrrigatorPage": page_of_items("Irrigator"),
    "NewTemperatureCheck": sent(CHECK_FIELDS, "A reading of an irrigator's temperature."),
    "TemperatureCheck": _CHECK,
    "RecordedTemperatureCheck": _RECORDED_CHECK,
    "TemperatureCheckPage": page_of_items("TemperatureCheck"),
    "NewEquipmentEvent": sent(EVENT_FIELDS, "Something done to one device."),
    "EquipmentEvent": _EVENT,
    "EquipmentEventPage": page_of_items("EquipmentEvent"),
}

COMPONENTS: Final[dict[str, Schema]] = {
    **word_components(),
    **RESULT_SHAPES,
    **VISIT_SHAPES,
    **UPLOAD_SHAPES,
    **_ROSTER,
    "VisitPage": page_of_items("Visit"),
    "UploadProblemPage": page_of_items("UploadProblem"),
    "OpenApi": object_of({}, "A document as OpenAPI describes it."),
    "Html": text("A page."),
    "Error": _ERROR,
    "Problem": _PROBLEM,
}
