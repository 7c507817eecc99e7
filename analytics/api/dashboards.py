"""``/dashboards/``: figures made ahead, by role."""

from __future__ import annotations

from typing import Any, Final

from django.utils.http import parse_etags
from drf_spectacular.utils import OpenApiParameter
from rest_framework.request import Request
from rest_framework.response import Response

from analytics.dashboards.reading import NAMES, Dashboard, DashboardNotFound, dashboard_get
from registry.access.requests import Access
from registry.api.base import ApiView, access_in
from registry.api.operation import Answer, operation
from registry.api.parameters import header_answered, read_parameters

_PARAMETERS: Final = (
    OpenApiParameter("name", str, OpenApiParameter.PATH, enum=list(NAMES)),
    OpenApiParameter("about", str, description="A measure, or a subject's id; none: the network."),
    OpenApiParameter(
        "If-None-Match", str, OpenApiParameter.HEADER, description="An ETag of this address."
    ),
    header_answered("ETag", "Changes when the figures do.", 200, 304),
)


class DashboardView(ApiView):
    actions = {"GET": "dashboard_read"}
    seen_with = "dashboard_read"

    def find(self, access: Access, **kwargs: Any) -> object:
        """Not reached: who may know of a dashboard may read it."""
        raise DashboardNotFound

    @operation(
        "dashboard_get",
        "Read the figures of a dashboard",
        tag="dashboards",
        answers={
            200: Answer(about="The figures.", shape="Dashboard"),
            304: Answer(about="Not changed since that ETag."),
        },
        parameters=_PARAMETERS,
        problems=("parameter_not_valid", "not_found"),
    )
    def get(self, request: Request, name: str) -> Response:
        """Each role has its own: a tester the own figures, a site lead the clinic's."""
        about = read_parameters(request, keys=("about",)).get("about", "")
        dashboard = dashboard_get(access_in(request), name, about=about)
        headers = {"ETag": _etag(dashboard), "Cache-Control": "private, no-cache"}
        if _is_known(request, headers["ETag"]):
            return Response(status=304, headers=headers)
        return Response(_json(dashboard), headers=headers)


def _etag(dashboard: Dashboard) -> str:
    """With the id, since one address leads each role to figures of its own."""
    snapshot = dashboard.snapshot
    made = snapshot.built_at.strftime("%Y%m%dT%H%M%S.%f")
    return f'"{snapshot.id.hex}-{made}{"-stale" if dashboard.stale else ""}"'


def _is_known(request: Request, etag: str) -> bool:
    """Whether the reader has it already (RFC 9110, 13.1.2: compared weakly)."""
    known = parse_etags(request.headers.get("If-None-Match", ""))
    return known == ["*"] or etag in {one.removeprefix("W/") for one in known}


def _json(dashboard: Dashboard) -> dict[str, Any]:
    snapshot = dashboard.snapshot
    return {
        "name": snapshot.name,
        "about": snapshot.about,
        "figures": snapshot.content.get("figures", {}),
        "facts": snapshot.content.get("facts", {}),
        "built_at": snapshot.built_at,
        "covers_until": snapshot.covers_until,
        "stale": dashboard.stale,
    }
