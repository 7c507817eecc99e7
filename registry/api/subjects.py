"""``/subject-codes/`` and ``/subjects/erase/``: codes made, and a subject erased."""

from __future__ import annotations

from datetime import UTC
from typing import Final

from rest_framework.request import Request
from rest_framework.response import Response

from registry.api.base import ApiView, access_in, body_of, clinic_in, now
from registry.api.catalogue import BODY_PROBLEMS
from registry.api.field_schemas import CODE_KINDS
from registry.api.operation import Answer, operation
from registry.intake.erase import subject_erase
from registry.intake.fields import Field
from registry.intake.subject_codes import mint
from registry.roster.body import read_new

_PREFIXES: Final = {"subject": "S", "visit": "V"}
_WANTED: Final = (
    Field("kind", "word", "What the codes are for.", words=CODE_KINDS),
    Field("count", "whole", "How many.", low=1, high=1000),
)
_TO_ERASE: Final = (Field("subject_ref", "code", "Whom to erase.", needed=True),)


class SubjectCodesView(ApiView):
    actions = {"POST": "subject_code_mint"}

    @operation(
        "subject_codes_mint",
        "Make random codes",
        tag="subjects",
        body="CodesWanted",
        answers={201: Answer(about="New codes.", shape="Codes")},
        problems=(*BODY_PROBLEMS, "refused"),
    )
    def post(self, request: Request) -> Response:
        """Codes for subjects or visits, each with a check character; nothing is kept of them."""
        wanted = read_new(body_of(request), _WANTED, zone=UTC)
        prefix = _PREFIXES[wanted["kind"] or "subject"]
        return Response({"codes": [mint(prefix) for _ in range(wanted["count"] or 1)]}, 201)


class SubjectEraseView(ApiView):
    actions = {"POST": "subject_erase"}

    @operation(
        "subject_erase",
        "Erase a subject",
        tag="subjects",
        body="SubjectToErase",
        answers={200: Answer(about="What was removed.", shape="SubjectErased")},
        problems=(*BODY_PROBLEMS, "not_found", "refused"),
    )
    def post(self, request: Request) -> Response:
        """From every store, for good. A keyed digest stays, so that no file brings it back."""
        wanted = read_new(body_of(request), _TO_ERASE, zone=UTC)
        removed = subject_erase(
            clinic=clinic_in(request),
            subject_ref=wanted["subject_ref"],
            by=access_in(request).actor,
            at=now(),
        )
        return Response({"visits_removed": removed})
