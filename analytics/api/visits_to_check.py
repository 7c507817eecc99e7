"""``/visits-to-check/``: visits whose record deserves a second look."""

from __future__ import annotations

from typing import Final

from drf_spectacular.utils import OpenApiParameter
from rest_framework.request import Request
from rest_framework.response import Response

from analytics.stand_outs.reading import StandOutFilters, stand_outs_json, stand_outs_visible
from registry.api.base import ApiView, access_in
from registry.api.operation import Answer, operation
from registry.api.paging import page_response
from registry.api.parameters import described, paged, read_parameters
from registry.intake.fields import Field
from registry.reading.visits import view_is_reduced

_FILTERS: Final[tuple[tuple[str, Field], ...]] = (
    ("clinic", Field("clinic", "code", "Code of a clinic.")),
    ("tester", Field("tester", "code", "Code of a tester.")),
    ("from", Field("date_from", "date", "First day, YYYY-MM-DD.")),
    ("to", Field("date_to", "date", "Last day, YYYY-MM-DD.")),
)
_REASON: Final = OpenApiParameter("reason", str, description="One of the reason codes.")


class VisitToCheckListView(ApiView):
    actions = {"GET": "stand_out_read"}

    @operation(
        "visit_to_check_list",
        "List visits whose record deserves a second look",
        tag="visits",
        answers={200: Answer(about="A page, the latest visit first.", shape="VisitToCheckPage")},
        parameters=paged(*described(_FILTERS), _REASON),
        problems=("cursor_not_valid", "parameter_not_valid"),
    )
    def get(self, request: Request) -> Response:
        """A tester sees the own ones; a lead sees the network's in the reduced view."""
        access = access_in(request)
        filters = StandOutFilters(**read_parameters(request, _FILTERS, keys=("reason",)))
        reduced = view_is_reduced(access)
        return page_response(
            request,
            stand_outs_visible(access, filters),
            lambda rows: stand_outs_json(rows, reduced=reduced),
        )
