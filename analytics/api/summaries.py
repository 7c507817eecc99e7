"""``…/summary/``: the figures of a tester, an irrigator or a clinic.

The three differ in who may know that the subject is there, so their views are made by one
function.
"""

from __future__ import annotations

from typing import Any
from uuid import UUID

from rest_framework.request import Request
from rest_framework.response import Response

from analytics.summaries.bodies import summary_json
from analytics.summaries.reading import SummaryNotFound, summary_get
from registry.access.requests import Access
from registry.api.base import ApiView, access_in, clinic_of
from registry.api.operation import Answer, operation
from registry.api.parameters import read_parameters
from registry.models import Irrigator
from registry.roster.devices import device_get
from registry.roster.testers import tester_get


def _summary_view(kind: str, known_by: str) -> type[ApiView]:
    """``known_by`` is the action whose roles may know that a subject of this kind exists."""

    class SummaryView(ApiView):
        actions = {"GET": f"summary_{kind}_read"}
        seen_with = known_by

        def find(self, access: Access, **kwargs: Any) -> object:
            """The subject itself, for those who may know it but not read its figures."""
            return _subject(access, kind, kwargs["subject_id"])

        @operation(
            f"{kind}_summary",
            f"Read the figures of {'an' if kind == 'irrigator' else 'a'} {kind}",
            tag=f"{kind}s",
            answers={200: Answer(about="The figures.", shape=f"{kind.capitalize()}Summary")},
            problems=("parameter_not_valid", "not_found"),
        )
        def get(self, request: Request, subject_id: UUID) -> Response:
            """A tester reads the own figures, a site lead the clinic's, a lead the network's."""
            read_parameters(request)
            return Response(summary_json(summary_get(access_in(request), kind, subject_id)))

    return SummaryView


def _subject(access: Access, kind: str, subject_id: UUID) -> object:
    if kind == "tester":
        return tester_get(clinic=clinic_of(access), tester_id=subject_id)
    if kind == "irrigator":
        return device_get(Irrigator, clinic=clinic_of(access), device_id=subject_id)
    raise SummaryNotFound


TesterSummaryView = _summary_view("tester", "tester_read")
IrrigatorSummaryView = _summary_view("irrigator", "device_read")
ClinicSummaryView = _summary_view("clinic", "summary_clinic_read")
