"""``/look-backs/``: after a check out of tolerance, the visits since the last good one."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from rest_framework.request import Request
from rest_framework.response import Response

from analytics.look_backs.bodies import look_back_json, look_back_visit_json, look_backs_json
from analytics.look_backs.decide import look_back_decide, look_back_get, look_backs_visible
from analytics.models import LookBack
from registry.access.requests import Access
from registry.api.base import ApiView, access_in, body_of, clinic_in, now
from registry.api.catalogue import BODY_PROBLEMS
from registry.api.operation import Answer, operation
from registry.api.paging import page_response
from registry.api.parameters import paged, read_parameters
from registry.reading.visits import view_is_reduced


class LookBackListView(ApiView):
    actions = {"GET": "look_back_read"}

    @operation(
        "look_back_list",
        "List look-backs",
        tag="look-backs",
        answers={200: Answer(about="A page, the latest check first.", shape="LookBackPage")},
        parameters=paged(),
        problems=("cursor_not_valid", "parameter_not_valid"),
    )
    def get(self, request: Request) -> Response:
        """With how many visits, and how many of them still to decide on."""
        read_parameters(request)
        access = access_in(request)
        reduced, rows = view_is_reduced(access), look_backs_visible(access)
        return page_response(
            request,
            rows,
            lambda page: look_backs_json(page, reduced=reduced),
            places=rows if reduced else None,
        )


class OneLookBackView(ApiView):
    """Shared by the views of one look-back: it is not found by who may not read it."""

    seen_with = "look_back_read"

    def find(self, access: Access, **kwargs: Any) -> LookBack:
        return look_back_get(access, kwargs["look_back_id"])


class LookBackView(OneLookBackView):
    actions = {"GET": "look_back_read"}

    @operation(
        "look_back_get",
        "Read a look-back",
        tag="look-backs",
        answers={200: Answer(about="The look-back and its visits.", shape="LookBackWhole")},
        problems=("parameter_not_valid", "not_found"),
    )
    def get(self, request: Request, look_back_id: UUID) -> Response:
        """The visits in which a criterion could change come first."""
        read_parameters(request)
        access = access_in(request)
        row = self.find(access, look_back_id=look_back_id)
        return Response(look_back_json(row, reduced=view_is_reduced(access)))


class LookBackDecideView(OneLookBackView):
    actions = {"POST": "look_back_decide"}

    @operation(
        "look_back_decide",
        "Decide on a visit of a look-back",
        tag="look-backs",
        body="LookBackDecision",
        answers={200: Answer(about="The visit with its decision.", shape="LookBackVisit")},
        problems=(*BODY_PROBLEMS, "not_found", "refused"),
    )
    def post(self, request: Request, look_back_id: UUID, visit_id: UUID) -> Response:
        """A later decision takes the place of an earlier one."""
        access = access_in(request)
        decided = look_back_decide(
            self.find(access, look_back_id=look_back_id),
            visit_id,
            body_of(request),
            zone=clinic_in(request).zone(),
            by=access.actor,
            at=now(),
        )
        return Response(look_back_visit_json(decided, reduced=view_is_reduced(access)))
