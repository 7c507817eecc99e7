"""One visit: what is safe to know first, then what was measured, then how."""

from __future__ import annotations

import csv
from dataclasses import replace
from io import StringIO
from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from registry.access.permissions import may
from registry.access.requests import Access
from registry.caloric.responses import normalise
from registry.intake.submit import VisitNotFound
from registry.models import Irrigator
from registry.pages.gate import members_page
from registry.pages.irrigation_rows import name_of
from registry.pages.visit_display import visit_display
from registry.reading.bodies import body_json, visit_body
from registry.reading.versions import visit_versions
from registry.reading.visits import view_is_reduced, visit_get


@require_safe
@members_page("visit_read")
def visit_page(request: HttpRequest, access: Access, visit_id: UUID) -> HttpResponse:
    body = seen_body(access, visit_id)
    may_amend = may(access.role, "visit_amend") and not body["withdrawn"]
    context = {
        "visit_id": visit_id,
        "shown": visit_display(body, access.zone()),
        "withdrawn": body["withdrawn_at"],
        "is_withdrawn": body["withdrawn"],
        "out_of_use": _out_of_use(access, body),
        "may_amend": may_amend,
        "versions": _versions(access, visit_id),
    }
    return render(request, "visits/page.html", context)


@require_safe
@members_page("visit_read")
def visit_beats(
    request: HttpRequest, access: Access, visit_id: UUID, irrigation: str
) -> HttpResponse:
    """The beats of one response as CSV, positive in the expected direction."""
    body = seen_body(access, visit_id)
    beats = next(
        (one.get("beats") for one in body["irrigations"] if name_of(one) == irrigation), None
    )
    if not beats:
        raise Http404
    text = StringIO()
    writer = csv.writer(text)
    writer.writerow(["time_s", "spv"])
    writer.writerows(zip(beats["time_s"], beats["spv"], strict=True))
    response = HttpResponse(text.getvalue(), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="beats-{irrigation}.csv"'
    return response


def seen_body(access: Access, visit_id: UUID) -> dict[str, Any]:
    """The visit as this reader sees it, every speed positive in the expected direction.

    :raises Http404: for a visit that is not there, or not for this reader: the same answer.
    """
    try:
        body = visit_body(visit_get(access, visit_id))
    except VisitNotFound:
        raise Http404 from None
    # Magnitudes that were sent without signs are given back so; a page needs one rule.
    turned = replace(body.stored, visit=normalise(body.stored.visit))
    return body_json(replace(body, stored=turned), reduced=view_is_reduced(access))


def _out_of_use(access: Access, body: dict[str, Any]) -> list[Irrigator]:
    """Irrigators of this visit that are out of use now, for those who may know the device.

    A lead may not: the hour of a temperature check tells when the clinic was at work.
    """
    if not may(access.role, "device_read"):
        return []
    codes = {body["irrigator"], *(one.get("irrigator") for one in body["irrigations"])}
    return list(
        Irrigator.objects.filter(
            clinic_id__in=access.clinic_ids,
            clinic__code=body["clinic"],
            code__in=codes - {None},
            out_of_use_since__isnull=False,
            retired_at=None,
        ).order_by("code")
    )


def _versions(access: Access, visit_id: UUID) -> list[dict[str, Any]] | None:
    if not may(access.role, "visit_versions_read"):
        return None
    return visit_versions(access, visit_id)
