"""``/irrigators/`` ``/recorders/`` ``/thermometers/``: the devices of the caller's clinic.

The three differ in their model and in what an irrigator shows besides, so their views are made
by one function.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.urls import reverse
from rest_framework.request import Request
from rest_framework.response import Response

from registry.access.requests import Access
from registry.api.base import ApiView, access_in, body_of, clinic_in, clinic_of, now
from registry.api.catalogue import BODY_PROBLEMS
from registry.api.operation import Answer, operation
from registry.api.paging import page_response
from registry.api.parameters import header_answered, paged, read_parameters
from registry.models import Irrigator, Recorder, Thermometer
from registry.roster.devices import device_change, device_create, device_get, devices_of
from registry.roster.irrigator_state import BECAUSE

Device = Irrigator | Recorder | Thermometer
ViewClass = type[ApiView]


def device_json(device: Device) -> dict[str, Any]:
    body: dict[str, Any] = {
        "id": device.id,
        "code": device.code,
        "in_service_from": device.in_service_from,
        "retired_at": device.retired_at,
        "calibration_due": device.calibration_due,
        "uncertainty_c": device.uncertainty_c,
        "created_at": device.created_at,
    }
    if isinstance(device, Irrigator):
        body |= out_of_use_json(device, prefix="")
    return body


def out_of_use_json(irrigator: Irrigator, *, prefix: str = "irrigator_") -> dict[str, Any]:
    """Since when it is out of use, and what was measured; both null while it is in use."""
    since = irrigator.out_of_use_since
    return {
        f"{prefix}out_of_use_since": since,
        f"{prefix}out_of_use_because": BECAUSE if since else None,
    }


def device_views(kind: Any, shape: str) -> tuple[ViewClass, ViewClass]:
    """The view of the list and the view of one device of a kind."""
    return _list_view(kind, shape), _one_view(kind, shape)


def _list_view(kind: Any, shape: str) -> ViewClass:
    name = str(kind._meta.model_name)

    class DeviceListView(ApiView):
        actions = {"GET": "device_read", "POST": "device_write"}

        @operation(
            f"{name}_list",
            f"List {name}s",
            tag=f"{name}s",
            answers={200: Answer(about="A page, by label.", shape=f"{shape}Page")},
            parameters=paged(),
            problems=("cursor_not_valid", "parameter_not_valid"),
        )
        def get(self, request: Request) -> Response:
            """The clinic's devices of this kind, retired ones too."""
            read_parameters(request)
            devices = devices_of(kind, clinic=clinic_in(request))
            return page_response(request, devices, _all_json)

        @operation(
            f"{name}_create",
            f"Add one to the {name}s",
            tag=f"{name}s",
            body="NewDevice",
            answers={201: Answer(about="The device.", shape=shape)},
            parameters=[header_answered("Location", "Address of the device.", 201)],
            problems=(*BODY_PROBLEMS, "code_in_use", "refused"),
        )
        def post(self, request: Request) -> Response:
            """A label that a retired device had is taken as a new device's."""
            device = device_create(
                kind,
                clinic=clinic_in(request),
                data=body_of(request),
                by=access_in(request).actor,
                at=now(),
            )
            place = reverse(f"api-{name}", args=[device.id])
            return Response(device_json(device), status=201, headers={"Location": place})

    return DeviceListView


def _one_view(kind: Any, shape: str) -> ViewClass:
    name = str(kind._meta.model_name)

    class DeviceView(ApiView):
        actions = {"GET": "device_read", "PATCH": "device_write"}
        seen_with = "device_read"

        def find(self, access: Access, **kwargs: Any) -> Device:
            found: Device = device_get(
                kind, clinic=clinic_of(access), device_id=kwargs["device_id"]
            )
            return found

        @operation(
            f"{name}_get",
            f"Read one of the {name}s",
            tag=f"{name}s",
            answers={200: Answer(about="The device.", shape=shape)},
            problems=("not_found",),
        )
        def get(self, request: Request, device_id: UUID) -> Response:
            """One device of the clinic."""
            return Response(device_json(self.find(access_in(request), device_id=device_id)))

        @operation(
            f"{name}_change",
            f"Change or retire one of the {name}s",
            tag=f"{name}s",
            body="DeviceChange",
            answers={200: Answer(about="The device as it is now.", shape=shape)},
            problems=(*BODY_PROBLEMS, "not_found", "code_in_use", "refused"),
        )
        def patch(self, request: Request, device_id: UUID) -> Response:
            """Days in service, calibration, uncertainty; never the label."""
            device = device_change(
                kind,
                clinic=clinic_in(request),
                device_id=device_id,
                data=body_of(request),
                by=access_in(request).actor,
                at=now(),
            )
            return Response(device_json(device))

    return DeviceView


def _all_json(devices: Sequence[Device]) -> list[dict[str, Any]]:
    return [device_json(device) for device in devices]


IrrigatorListView, IrrigatorView = device_views(Irrigator, "Irrigator")
RecorderListView, RecorderView = device_views(Recorder, "Device")
ThermometerListView, ThermometerView = device_views(Thermometer, "Device")
