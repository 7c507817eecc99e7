"""``/clinics/``: the clinics within reach of who leads."""

from __future__ import annotations

from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from registry.api.base import ApiView, access_in
from registry.api.operation import Answer, operation
from registry.api.paging import page_response
from registry.api.parameters import paged, read_parameters
from registry.models import Clinic


class ClinicListView(ApiView):
    actions = {"GET": "summary_clinic_read"}

    @operation(
        "clinic_list",
        "List clinics",
        tag="clinics",
        answers={200: Answer(about="A page, by code.", shape="ClinicPage")},
        parameters=paged(),
        problems=("cursor_not_valid", "parameter_not_valid"),
    )
    def get(self, request: Request) -> Response:
        """A site lead's own clinic; a lead's clinics of the network."""
        read_parameters(request)
        clinics = Clinic.objects.filter(id__in=access_in(request).clinic_ids)
        return page_response(
            request, clinics.order_by("code", "id"), lambda rows: [_json(row) for row in rows]
        )


def _json(clinic: Clinic) -> dict[str, Any]:
    return {"id": clinic.public_id, "code": clinic.code, "name": clinic.name}
