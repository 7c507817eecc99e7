"""``/schema/`` and ``/docs/``: the interface described, by a document and by a page."""

from __future__ import annotations

from functools import cache
from typing import Any

from django.shortcuts import render
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.renderers import (
    OpenApiJsonRenderer,
    OpenApiJsonRenderer2,
    OpenApiYamlRenderer,
)
from rest_framework.permissions import AllowAny
from rest_framework.renderers import StaticHTMLRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from registry.api.base import ApiView
from registry.api.docs_page import docs_context
from registry.api.operation import Answer, operation


class MembershipScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """A bearer token, or the session of the pages."""

    target_class = "registry.api.authentication.MembershipAuthentication"
    name = ["bearer", "session"]

    def get_security_requirement(self, auto_schema: Any) -> list[dict[str, list[Any]]]:
        return [{"bearer": []}, {"session": []}]

    def get_security_definition(self, auto_schema: Any) -> list[dict[str, Any]]:
        return [
            {"type": "http", "scheme": "bearer", "description": "A token of one membership."},
            {
                "type": "apiKey",
                "in": "cookie",
                "name": "sessionid",
                "description": "The session of the pages; changes need its CSRF token too.",
            },
        ]


@cache
def document() -> dict[str, Any]:
    """The OpenAPI document; it does not change while the process lives."""
    generator = SchemaGenerator(api_version="v1")  # type: ignore[no-untyped-call]
    made: dict[str, Any] = generator.get_schema(public=True)  # type: ignore[no-untyped-call]
    return made


class SchemaView(ApiView):
    # It describes the interface and holds no data.
    permission_classes = [AllowAny]
    authentication_classes = []
    renderer_classes = [OpenApiJsonRenderer2, OpenApiJsonRenderer, OpenApiYamlRenderer]

    @operation(
        "schema_get",
        "Read this document",
        tag="description",
        answers={200: Answer(about="OpenAPI 3.1.", shape="OpenApi")},
        is_open=True,
    )
    def get(self, request: Request) -> Response:
        """The interface as an OpenAPI document, as JSON or YAML."""
        return Response(document())


class DocsView(ApiView):
    permission_classes = [AllowAny]
    authentication_classes = []
    renderer_classes = [StaticHTMLRenderer]

    @operation(
        "docs_get",
        "Read this document as a page",
        tag="description",
        answers={200: Answer(about="A page.", shape="Html", media_type="text/html")},
        is_open=True,
    )
    def get(self, request: Request) -> Response:
        """The interface on one page, which loads nothing from elsewhere."""
        page = render(request._request, "api/docs.html", docs_context(document()))
        return Response(page.content.decode())
