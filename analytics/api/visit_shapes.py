"""Visits that stand out and visits that are looked back at, as JSON Schema."""

from __future__ import annotations

from typing import Final

from analytics.api.shape_parts import CLINIC_CODE, MONTH, all_of, day, taken, word
from analytics.look_backs.decide import DECISION_FIELDS
from analytics.models.look_back import DECISIONS
from registry.api.field_schemas import (
    Schema,
    identity,
    list_of,
    moment,
    nullable,
    number,
    text,
    whole,
)
from registry.api.shapes import page_of_items

_VISIT_TO_CHECK: Final = all_of(
    {
        "id": identity("Id of the visit."),
        "clinic": CLINIC_CODE,
        "tester": text("Code of the tester."),
        "month": MONTH,
        "visit_date": nullable(day("Day of the test; null in the reduced view.")),
        "visit_ref": nullable(text("Code of the visit; null in the reduced view.")),
        "distance": nullable(number("From the usual visit, in robust standard deviations.")),
        "reason_codes": list_of({"type": "string"}, "Why its record deserves a second look."),
        "reasons": {"type": "array", "items": {}, "description": "The same with figures."},
    },
    "A visit whose record deserves a second look; never a reason to remove it.",
)
_LOOK_BACK_FIELDS: Final[dict[str, Schema]] = {
    "id": identity("The registry's own id."),
    "clinic": CLINIC_CODE,
    "irrigator": all_of(
        {"id": identity("Its id."), "code": text("Its code.")}, "The irrigator checked."
    ),
    "stimulus": word("Which of its temperatures.", ("warm", "cool")),
    "set_temperature_c": number("Temperature set. Unit (UCUM): Cel."),
    "deviation_c": number("Reading less the temperature set. Unit (UCUM): Cel."),
    "tolerance_c": number("The tolerance used. Unit (UCUM): Cel."),
    "checked_month": MONTH,
    "last_good_at": nullable(moment("The last check within; null in the reduced view.")),
    "checked_at": nullable(moment("The check out of tolerance; null in the reduced view.")),
    "until_at": nullable(moment("Up to where tests are looked at; null in the reduced view.")),
    "opened_at": nullable(moment("When it was opened; null in the reduced view.")),
    "visit_count": whole("Visits in it.", minimum=0),
    "changed_count": whole("Visits in which a criterion could change.", minimum=0),
    "undecided_count": whole("Visits that nothing was decided on yet.", minimum=0),
}
_LOOK_BACK_VISIT: Final = all_of(
    {
        "id": identity("Id of the visit."),
        "month": MONTH,
        "visit_date": nullable(day("Day of the test; null in the reduced view.")),
        "as_sent": list_of({"type": "string"}, "Criteria met as sent."),
        "at_worst": list_of({"type": "string"}, "Criteria met at the worst case."),
        "changed": list_of({"type": "string"}, "Criteria that could change."),
        "weakness_low": nullable(number("Unilateral weakness, lowest. Unit (UCUM): %.")),
        "weakness_high": nullable(number("Unilateral weakness, highest. Unit (UCUM): %.")),
        "preponderance_low": nullable(number("Preponderance, lowest. Unit (UCUM): %.")),
        "preponderance_high": nullable(number("Preponderance, highest. Unit (UCUM): %.")),
        "decision": nullable(word("What becomes of the visit.", DECISIONS)),
        "decided_at": nullable(moment("When that was decided; null in the reduced view.")),
    },
    "A visit between a good check and one out of tolerance.",
)
CHECKED_VISIT_SHAPES: Final[dict[str, Schema]] = {
    "VisitToCheck": _VISIT_TO_CHECK,
    "VisitToCheckPage": page_of_items("VisitToCheck"),
    "LookBack": all_of(_LOOK_BACK_FIELDS, "The visits since the last good check, looked at."),
    "LookBackPage": page_of_items("LookBack"),
    "LookBackVisit": _LOOK_BACK_VISIT,
    "LookBackWhole": all_of(
        _LOOK_BACK_FIELDS | {"visits": list_of("LookBackVisit")}, "A look-back with its visits."
    ),
    "LookBackDecision": taken(DECISION_FIELDS, "What becomes of a visit."),
}
