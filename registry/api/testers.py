"""``/testers/``: the testers of the caller's clinic."""

from __future__ import annotations

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
from registry.models import Tester
from registry.roster.testers import tester_change, tester_create, tester_get, testers_of


class TesterListView(ApiView):
    actions = {"GET": "tester_read", "POST": "tester_write"}

    @operation(
        "tester_list",
        "List testers",
        tag="testers",
        answers={200: Answer(about="A page, by code.", shape="TesterPage")},
        parameters=paged(),
        problems=("cursor_not_valid", "parameter_not_valid"),
    )
    def get(self, request: Request) -> Response:
        """The clinic's testers, those no longer active too."""
        read_parameters(request)
        testers = testers_of(clinic=clinic_in(request))
        return page_response(request, testers, lambda rows: [tester_json(row) for row in rows])

    @operation(
        "tester_create",
        "Add a tester",
        tag="testers",
        body="NewTester",
        answers={201: Answer(about="The tester.", shape="Tester")},
        parameters=[header_answered("Location", "Address of the tester.", 201)],
        problems=(*BODY_PROBLEMS, "code_in_use", "refused"),
    )
    def post(self, request: Request) -> Response:
        """A tester is known only by a code of the clinic, never by a name."""
        tester = tester_create(
            clinic=clinic_in(request),
            data=body_of(request),
            by=access_in(request).actor,
            at=now(),
        )
        place = reverse("api-tester", args=[tester.id])
        return Response(tester_json(tester), status=201, headers={"Location": place})


class TesterView(ApiView):
    actions = {"GET": "tester_read", "PATCH": "tester_write"}
    seen_with = "tester_read"

    def find(self, access: Access, **kwargs: Any) -> Tester:
        return tester_get(clinic=clinic_of(access), tester_id=kwargs["tester_id"])

    @operation(
        "tester_get",
        "Read a tester",
        tag="testers",
        answers={200: Answer(about="The tester.", shape="Tester")},
        problems=("not_found",),
    )
    def get(self, request: Request, tester_id: UUID) -> Response:
        """One tester of the clinic."""
        return Response(tester_json(self.find(access_in(request), tester_id=tester_id)))

    @operation(
        "tester_change",
        "Change a tester",
        tag="testers",
        body="TesterChange",
        answers={200: Answer(about="The tester as it is now.", shape="Tester")},
        problems=(*BODY_PROBLEMS, "not_found", "refused"),
    )
    def patch(self, request: Request, tester_id: UUID) -> Response:
        """Experience and active days; never the code, since earlier visits go by it."""
        tester = tester_change(
            clinic=clinic_in(request),
            tester_id=tester_id,
            data=body_of(request),
            by=access_in(request).actor,
            at=now(),
        )
        return Response(tester_json(tester))


def tester_json(tester: Tester) -> dict[str, Any]:
    return {
        "id": tester.id,
        "code": tester.code,
        "experience_band": tester.experience_band,
        "active_from": tester.active_from,
        "active_to": tester.active_to,
        "created_at": tester.created_at,
    }
