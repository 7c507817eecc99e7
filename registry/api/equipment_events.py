"""``/equipment-events/``: what was done to an irrigator or a recorder."""

from __future__ import annotations

from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from registry.api.base import ApiView, access_in, body_of, clinic_in, now
from registry.api.catalogue import BODY_PROBLEMS
from registry.api.operation import Answer, operation
from registry.api.paging import page_response
from registry.api.parameters import paged, read_parameters
from registry.models import EquipmentEvent
from registry.roster.events import equipment_event_record, equipment_events_of


class EquipmentEventListView(ApiView):
    actions = {"GET": "equipment_event_read", "POST": "equipment_event_write"}

    @operation(
        "equipment_event_list",
        "List equipment events",
        tag="equipment events",
        answers={200: Answer(about="A page, the latest first.", shape="EquipmentEventPage")},
        parameters=paged(),
        problems=("cursor_not_valid", "parameter_not_valid"),
    )
    def get(self, request: Request) -> Response:
        """What was done to the clinic's devices."""
        read_parameters(request)
        events = equipment_events_of(clinic=clinic_in(request))
        return page_response(request, events, lambda rows: [event_json(row) for row in rows])

    @operation(
        "equipment_event_record",
        "Record an equipment event",
        tag="equipment events",
        body="NewEquipmentEvent",
        answers={
            201: Answer(about="Recorded.", shape="EquipmentEvent"),
            200: Answer(about="The same event again.", shape="EquipmentEvent"),
        },
        problems=(*BODY_PROBLEMS, "refused"),
    )
    def post(self, request: Request) -> Response:
        """On one device: an irrigator or a recorder."""
        event, created = equipment_event_record(
            clinic=clinic_in(request),
            data=body_of(request),
            by=access_in(request).actor,
            at=now(),
        )
        return Response(event_json(event), status=201 if created else 200)


def event_json(event: EquipmentEvent) -> dict[str, Any]:
    code = event.device_code  # type: ignore[attr-defined]
    return {
        "id": event.id,
        "kind": event.kind,
        "happened_at": event.happened_at,
        "irrigator": code if event.irrigator_id else None,
        "recorder": code if event.recorder_id else None,
        "recorded_at": event.recorded_at,
    }
