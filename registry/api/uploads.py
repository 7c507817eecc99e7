"""``/uploads/``: files of visits, their progress and what was wrong with them."""

from __future__ import annotations

from typing import Any, Final
from uuid import UUID

from django.urls import reverse
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from registry.access.permissions import may
from registry.access.requests import Access
from registry.api.base import ApiView, access_in, clinic_in, clinic_of, now
from registry.api.catalogue import detail_of
from registry.api.csv_answer import CSVRenderer
from registry.api.operation import Answer, operation
from registry.api.paging import page_response
from registry.api.parameters import header_answered, paged, read_parameters
from registry.api.parsing import LimitedMultiPartParser
from registry.api.upload_form import read_form
from registry.api.upload_shapes import COUNTS
from registry.intake.uploads import upload_purge, upload_receive, upload_undo
from registry.models import Upload, UploadProblem
from registry.reading.uploads import upload_get, upload_problems

_COLUMNS: Final = ("row", "column", "code", "detail")


class UploadListView(ApiView):
    actions = {"POST": "upload_create"}
    parser_classes = [LimitedMultiPartParser]

    @operation(
        "upload_create",
        "Send a file of visits",
        tag="uploads",
        body="UploadForm",
        body_media_type="multipart/form-data",
        answers={
            202: Answer(about="Taken in.", shape="Upload"),
            200: Answer(about="The same file again: its first record.", shape="Upload"),
        },
        parameters=[header_answered("Location", "Address of the upload.", 200, 202)],
        problems=(
            "form_not_readable",
            "no_agreement_in_force",
            "body_too_large",
            "unsupported_media_type",
            "refused",
            "file_refused",
        ),
    )
    def post(self, request: Request) -> Response:
        """CSV, XLSX or NDJSON. The same bytes with the same options are the same upload."""
        access = access_in(request)
        form = read_form(request, may_create_missing=may(access.role, "upload_create_missing"))
        upload, created = upload_receive(
            clinic=clinic_of(access),
            stream=form.file,
            by=access.actor,
            at=now(),
            policy=form.policy,
            create_missing=form.create_missing,
        )
        response = Response(upload_json(upload), status=202 if created else 200)
        response["Location"] = reverse("api-upload", args=[upload.id])
        return response


class OneUploadView(ApiView):
    """Shared by the views of one upload: it is not found by who may not read it."""

    seen_with = "upload_read"

    def find(self, access: Access, **kwargs: Any) -> Upload:
        return upload_get(clinic=clinic_of(access), upload_id=kwargs["upload_id"])


class UploadView(OneUploadView):
    actions = {"GET": "upload_read"}

    @operation(
        "upload_get",
        "Read how far an upload is",
        tag="uploads",
        answers={200: Answer(about="The upload.", shape="Upload")},
        problems=("not_found",),
    )
    def get(self, request: Request, upload_id: UUID) -> Response:
        """Its state and counts."""
        return Response(upload_json(self.find(access_in(request), upload_id=upload_id)))


class UploadProblemsView(OneUploadView):
    actions = {"GET": "upload_read"}
    renderer_classes = [JSONRenderer, CSVRenderer]

    @operation(
        "upload_problems",
        "List what was wrong with the rows of an upload",
        tag="uploads",
        answers={
            200: [
                Answer(about="A page, in the order of the file.", shape="UploadProblemPage"),
                Answer(about="All of them.", shape="UploadProblemTable", media_type="text/csv"),
            ]
        },
        parameters=paged(),
        problems=("cursor_not_valid", "parameter_not_valid", "not_found"),
    )
    def get(self, request: Request, upload_id: UUID) -> Response:
        """In pages as JSON; whole as CSV, asked for by `Accept: text/csv` or `format=csv`."""
        read_parameters(request)
        problems = upload_problems(clinic=clinic_in(request), upload_id=upload_id)
        if isinstance(request.accepted_renderer, CSVRenderer):
            rows = [upload_problem_json(problem) for problem in problems]
            return Response({"columns": _COLUMNS, "rows": rows})
        return page_response(
            request, problems, lambda page: [upload_problem_json(problem) for problem in page]
        )


class UploadUndoView(OneUploadView):
    actions = {"POST": "upload_undo"}

    @operation(
        "upload_undo",
        "Withdraw all visits of an upload",
        tag="uploads",
        answers={200: Answer(about="What was withdrawn.", shape="UploadUndone")},
        problems=("not_found",),
    )
    def post(self, request: Request, upload_id: UUID) -> Response:
        """The same file may then be sent anew."""
        withdrawn = upload_undo(
            clinic=clinic_in(request), upload_id=upload_id, by=access_in(request).actor, at=now()
        )
        return Response({"visits_withdrawn": withdrawn})


class UploadPurgeView(OneUploadView):
    actions = {"POST": "upload_purge"}

    @operation(
        "upload_purge",
        "Remove every trace of an upload",
        tag="uploads",
        answers={204: Answer(about="Nothing of it is left.")},
        problems=("not_found",),
    )
    def post(self, request: Request, upload_id: UUID) -> Response:
        """For a file that held identifiers: the visits it brought go, and its record too."""
        upload_purge(
            clinic=clinic_in(request), upload_id=upload_id, by=access_in(request).actor, at=now()
        )
        return Response(status=204)


def upload_json(upload: Upload) -> dict[str, Any]:
    return {
        "id": upload.id,
        "state": upload.state,
        "policy": upload.policy,
        "create_missing": upload.create_missing,
        **{name: getattr(upload, name) for name in COUNTS},
        "sha256": bytes(upload.sha256).hex(),
        "size_bytes": upload.size_bytes,
        "identifiers_found": upload.identifiers_found,
        "received_at": upload.received_at,
        "finished_at": upload.finished_at,
        "undone_at": upload.undone_at,
    }


def upload_problem_json(problem: UploadProblem) -> dict[str, Any]:
    return {
        "row": problem.row,
        "column": problem.column,
        "code": problem.code,
        "detail": detail_of(problem.code),
    }
