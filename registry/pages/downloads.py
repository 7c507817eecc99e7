"""Blank tables to fill in, and the published description of both."""

from __future__ import annotations

import csv
import json
from dataclasses import dataclass
from io import StringIO
from typing import Final

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_safe

from registry.access.requests import Access
from registry.intake.readers import long_header, table_schema, wide_header
from registry.pages.gate import members_page

_HEADERS: Final = {"visits-long.csv": long_header, "visits-wide.csv": wide_header}


@dataclass(frozen=True, slots=True)
class TemplateLink:
    address: str
    title: str
    line: str


def template_links() -> list[TemplateLink]:
    """The blank tables and their descriptions, as links for the page of uploads."""
    told = (
        ("visits-long.csv", "Long table (CSV)", "one row an irrigation"),
        ("visits-wide.csv", "Wide table (CSV)", "one row a visit, four cells side by side"),
        ("visits-long.schema.json", "Long table described", "Frictionless Table Schema"),
        ("visits-wide.schema.json", "Wide table described", "Frictionless Table Schema"),
    )
    return [
        TemplateLink(reverse("template", args=[name]), title, line) for name, title, line in told
    ]


@require_safe
@members_page("upload_read")
def template(request: HttpRequest, access: Access, name: str) -> HttpResponse:
    if name in _HEADERS:
        text = StringIO()
        csv.writer(text).writerow(_HEADERS[name]())
        return _file(name, text.getvalue(), "text/csv; charset=utf-8")
    if name == "visits-long.schema.json":
        return _file(name, json.dumps(table_schema("long"), indent=2), "application/json")
    if name == "visits-wide.schema.json":
        return _file(name, json.dumps(table_schema("wide"), indent=2), "application/json")
    raise Http404


def _file(name: str, text: str, content_type: str) -> HttpResponse:
    response = HttpResponse(text, content_type=content_type)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
