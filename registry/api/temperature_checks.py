"""``/temperature-checks/``: readings of an irrigator's temperature."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from rest_framework.request import Request
from rest_framework.response import Response

from registry.access.requests import Access
from registry.api.base import ApiView, access_in, body_of, clinic_in, clinic_of, now
from registry.api.catalogue import BODY_PROBLEMS
from registry.api.devices import out_of_use_json
from registry.api.operation import Answer, operation
from registry.api.paging import page_response
from registry.api.parameters import paged, read_parameters
from registry.models import TemperatureCheck
from registry.roster.temperature_checks import (
    temperature_check_get,
    temperature_check_record,
    temperature_check_withdraw,
    temperature_checks_of,
)


class TemperatureCheckListView(ApiView):
    actions = {"GET": "temperature_check_read", "POST": "temperature_check_write"}

    @operation(
        "temperature_check_list",
        "List temperature checks",
        tag="temperature checks",
        answers={200: Answer(about="A page, the latest first.", shape="TemperatureCheckPage")},
        parameters=paged(),
        problems=("cursor_not_valid", "parameter_not_valid"),
    )
    def get(self, request: Request) -> Response:
        """The clinic's readings, withdrawn ones too."""
        read_parameters(request)
        checks = temperature_checks_of(clinic=clinic_in(request))
        return page_response(request, checks, lambda rows: [check_json(row) for row in rows])

    @operation(
        "temperature_check_record",
        "Record a temperature check",
        tag="temperature checks",
        body="NewTemperatureCheck",
        answers={
            201: Answer(about="Recorded and judged.", shape="RecordedTemperatureCheck"),
            200: Answer(about="The same reading again.", shape="RecordedTemperatureCheck"),
        },
        problems=(*BODY_PROBLEMS, "check_differs", "refused"),
    )
    def post(self, request: Request) -> Response:
        """The registry decides whether the reading is within tolerance.

        The first reading out of tolerance asks for a confirming second; two in a row put the
        irrigator out of use until one is within.
        """
        recorded = temperature_check_record(
            clinic=clinic_in(request),
            data=body_of(request),
            by=access_in(request).actor,
            at=now(),
        )
        body = {
            "check": check_json(recorded.check),
            "confirming_reading_needed": recorded.confirming_reading_needed,
        }
        body |= out_of_use_json(recorded.irrigator)
        return Response(body, status=201 if recorded.created else 200)


class TemperatureCheckWithdrawView(ApiView):
    actions = {"POST": "temperature_check_withdraw"}
    seen_with = "temperature_check_read"

    def find(self, access: Access, **kwargs: Any) -> TemperatureCheck:
        return temperature_check_get(clinic=clinic_of(access), check_id=kwargs["check_id"])

    @operation(
        "temperature_check_withdraw",
        "Withdraw a temperature check",
        tag="temperature checks",
        answers={200: Answer(about="The withdrawn reading.", shape="TemperatureCheck")},
        problems=("not_found",),
    )
    def post(self, request: Request, check_id: UUID) -> Response:
        """Out of everything that counts. Done again, it changes nothing."""
        temperature_check_withdraw(
            clinic=clinic_in(request), check_id=check_id, by=access_in(request).actor, at=now()
        )
        return Response(check_json(self.find(access_in(request), check_id=check_id)))


def check_json(check: TemperatureCheck) -> dict[str, Any]:
    return {
        "id": check.id,
        "irrigator": check.irrigator.code,
        "thermometer": check.thermometer.code if check.thermometer else None,
        "checked_at": check.checked_at,
        "stimulus": check.stimulus,
        "set_temperature_c": check.set_temperature_c,
        "reading_c": check.reading_c,
        "measured_at": check.measured_at,
        "phase": check.phase,
        "action": check.action,
        "flow_l_min": check.flow_l_min,
        "ambient_c": check.ambient_c,
        "tolerance_c": check.tolerance_c,
        "within_tolerance": check.within_tolerance,
        "recorded_at": check.recorded_at,
        "withdrawn_at": check.withdrawn_at,
    }
