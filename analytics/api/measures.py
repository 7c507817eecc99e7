"""``/measures/``: the catalogue of what is watched, and why."""

from __future__ import annotations

from dataclasses import asdict

from rest_framework.request import Request
from rest_framework.response import Response

from analytics.measures import catalogue
from registry.api.base import ApiView
from registry.api.operation import Answer, operation
from registry.api.parameters import read_parameters


class MeasureListView(ApiView):
    actions = {"GET": "measure_read"}

    @operation(
        "measure_list",
        "Read the catalogue of measures",
        tag="measures",
        answers={200: Answer(about="Every measure.", shape="MeasureList")},
        problems=("parameter_not_valid",),
    )
    def get(self, request: Request) -> Response:
        """What is counted, from how many visits on it is shown, and where it comes from."""
        read_parameters(request)
        return Response({"results": [asdict(measure) for measure in catalogue().measures]})
