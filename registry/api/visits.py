"""``/visits/``: sent, read, amended, withdrawn."""

from __future__ import annotations

from typing import Any, Final
from uuid import UUID

from django.urls import reverse
from rest_framework.request import Request
from rest_framework.response import Response

from registry.access.requests import Access
from registry.api.base import ApiView, access_in, body_of, clinic_in, now
from registry.api.catalogue import BODY_PROBLEMS
from registry.api.operation import Answer, operation
from registry.api.paging import page_response
from registry.api.parameters import (
    described,
    header_answered,
    header_needed,
    paged,
    read_parameters,
)
from registry.api.preconditions import etag_of, expected_version
from registry.api.visit_filters import FILTERS
from registry.intake.submit import visit_amend, visit_submit, visit_withdraw
from registry.models import Visit
from registry.reading.bodies import body_json, visit_bodies, visit_body
from registry.reading.versions import visit_versions
from registry.reading.visits import VisitFilters, view_is_reduced, visit_get, visits_visible

CONFLICTS: Final = ("visit_changed", "visit_withdrawn", "visit_erased", "subject_erased")
_ETAG: Final = "The version, for If-Match."


class VisitListView(ApiView):
    actions = {"GET": "visit_read", "POST": "visit_create"}

    @operation(
        "visit_list",
        "List visits",
        tag="visits",
        answers={200: Answer(about="A page, the latest visit first.", shape="VisitPage")},
        parameters=paged(*described(FILTERS)),
        problems=("cursor_not_valid", "parameter_not_valid"),
    )
    def get(self, request: Request) -> Response:
        """A tester sees own visits only; a lead sees the network's in the reduced view."""
        access = access_in(request)
        filters = VisitFilters(**read_parameters(request, FILTERS))
        reduced = view_is_reduced(access)
        return page_response(
            request,
            visits_visible(access, filters),
            lambda rows: [
                body_json(body, reduced=reduced, beats=False) for body in visit_bodies(rows)
            ],
            places=visits_visible(access, VisitFilters()) if reduced else None,
        )

    @operation(
        "visit_create",
        "Send a visit",
        tag="visits",
        body="VisitSent",
        answers={
            201: Answer(about="New: stored and computed.", shape="Visit"),
            200: Answer(about="The same content was stored already.", shape="Visit"),
        },
        parameters=[
            header_answered("Location", "Address of the visit.", 200, 201),
            header_answered("ETag", _ETAG, 200, 201),
        ],
        problems=(*BODY_PROBLEMS, "no_agreement_in_force", *CONFLICTS, "refused"),
    )
    def post(self, request: Request) -> Response:
        """All that is wrong is said at once. The same content again is no error."""
        submitted = visit_submit(
            clinic=clinic_in(request),
            data=body_of(request),
            by=access_in(request).actor,
            at=now(),
            via="api",
        )
        response = _whole(request, submitted.visit_id, status=201 if submitted.created else 200)
        response["Location"] = reverse("api-visit", args=[submitted.visit_id])
        return response


class OneVisitView(ApiView):
    """Shared by the views of one visit: it is not found by who may not read it."""

    seen_with = "visit_read"

    def find(self, access: Access, **kwargs: Any) -> Visit:
        return visit_get(access, kwargs["visit_id"])


class VisitView(OneVisitView):
    actions = {"GET": "visit_read", "PUT": "visit_amend"}

    @operation(
        "visit_get",
        "Read a visit",
        tag="visits",
        answers={200: Answer(about="The visit.", shape="Visit")},
        parameters=[header_answered("ETag", _ETAG, 200)],
        problems=("not_found",),
    )
    def get(self, request: Request, visit_id: UUID) -> Response:
        """What was sent and what is computed of it; for a lead in the reduced view."""
        return _whole(request, visit_id)

    @operation(
        "visit_amend",
        "Correct a visit",
        tag="visits",
        body="VisitAmended",
        answers={200: Answer(about="The visit in its new version.", shape="Visit")},
        parameters=[
            header_needed("If-Match", "The version that the correction was made to."),
            header_answered("ETag", _ETAG, 200),
        ],
        problems=(
            *BODY_PROBLEMS,
            "no_agreement_in_force",
            "not_found",
            *CONFLICTS,
            "version_mismatch",
            "refused",
            "version_needed",
        ),
    )
    def put(self, request: Request, visit_id: UUID) -> Response:
        """The whole visit, with `amendment_reason` beside its fields. The old version is kept."""
        clinic = clinic_in(request)
        # Somebody else's visit is not found, whatever else the request lacks.
        self.find(access_in(request), visit_id=visit_id)
        version = expected_version(request)
        data, reason = _without_reason(body_of(request))
        visit_amend(
            clinic=clinic,
            visit_id=visit_id,
            data=data,
            reason=reason,
            expected_version=version,
            by=access_in(request).actor,
            at=now(),
        )
        return _whole(request, visit_id)


class VisitVersionsView(OneVisitView):
    actions = {"GET": "visit_versions_read"}

    @operation(
        "visit_versions",
        "Read how a visit once stood",
        tag="visits",
        answers={200: Answer(about="Its versions.", shape="VisitVersionList")},
        problems=("not_found",),
    )
    def get(self, request: Request, visit_id: UUID) -> Response:
        """Every version, the newest first, with the reason of each amendment."""
        return Response({"results": visit_versions(access_in(request), visit_id)})


class VisitWithdrawView(OneVisitView):
    actions = {"POST": "visit_withdraw"}

    @operation(
        "visit_withdraw",
        "Withdraw a visit",
        tag="visits",
        answers={200: Answer(about="The withdrawn visit.", shape="Visit")},
        problems=("not_found",),
    )
    def post(self, request: Request, visit_id: UUID) -> Response:
        """Out of every statistic and release. Done again, it changes nothing."""
        visit_withdraw(
            clinic=clinic_in(request), visit_id=visit_id, by=access_in(request).actor, at=now()
        )
        return _whole(request, visit_id)


def _whole(request: Request, visit_id: UUID, *, status: int = 200) -> Response:
    access = access_in(request)
    visit = visit_get(access, visit_id)
    body = body_json(visit_body(visit), reduced=view_is_reduced(access))
    return Response(body, status=status, headers={"ETag": etag_of(visit.version)})


def _without_reason(body: object) -> tuple[object, str]:
    """The visit and the reason that stands beside its fields; no reason is an empty one."""
    if not isinstance(body, dict):
        return body, ""
    reason = body.get("amendment_reason")
    visit = {name: value for name, value in body.items() if name != "amendment_reason"}
    return visit, reason if isinstance(reason, str) else ""
