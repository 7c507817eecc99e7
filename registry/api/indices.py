"""``/indices/``: compute, store nothing."""

from __future__ import annotations

from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from registry.api.base import ApiView, access_in, body_of, now
from registry.api.catalogue import BODY_PROBLEMS
from registry.api.operation import Answer, operation
from registry.api.problems import Problem
from registry.api.shapes import REFERENCE
from registry.caloric.compute import Computed
from registry.intake.compute_only import MOST_VISITS, indices_of, indices_of_many
from registry.intake.faults import Fault


class IndicesView(ApiView):
    actions = {"POST": "indices_compute"}

    @operation(
        "indices_compute",
        "Compute the indices of a visit, or of a list of visits",
        tag="indices",
        body={
            "oneOf": [
                {"$ref": REFERENCE + "VisitToCompute"},
                {
                    "type": "array",
                    "items": {"$ref": REFERENCE + "VisitToCompute"},
                    "maxItems": MOST_VISITS,
                },
            ]
        },
        answers={
            200: Answer(about="What was computed.", shape="ComputedOrList"),
        },
        problems=(*BODY_PROBLEMS, "refused"),
    )
    def post(self, request: Request) -> Response:
        """One visit answers one object; a list of up to 10,000 answers `results` in order.

        Nothing is stored. Only the irrigations are needed, and a set temperature may be absent.
        """
        clinic, body = access_in(request).clinic, body_of(request)
        if not isinstance(body, list):
            return Response(computed_json(indices_of(body, clinic=clinic, at=now())))
        if len(body) > MOST_VISITS:
            raise Problem("refused", faults=[Fault("", "too_many")])
        computed = indices_of_many(body, clinic=clinic, at=now())
        return Response({"results": [computed_json(one) for one in computed]})


def computed_json(computed: Computed) -> dict[str, Any]:
    first = computed.indices_first_attempt
    return {
        "indices": computed.indices.as_json(),
        "indices_first_attempt": first.as_json() if first else None,
        "assessments": [one.as_json() for one in computed.assessments],
        "findings": [one.as_json() for one in computed.findings],
        "protocol_done": computed.protocol_done,
    }
