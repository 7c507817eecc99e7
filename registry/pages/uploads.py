"""Sending a file of visits, its report of problems, and taking it back."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from io import StringIO
from typing import Any, Final
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from registry.access.permissions import may
from registry.access.requests import Access
from registry.intake.checks import DETAIL
from registry.intake.context import NoAgreement
from registry.intake.readers import FileRefused
from registry.intake.uploads import UploadNotFound, upload_purge, upload_receive, upload_undo
from registry.models import Upload, UploadProblem
from registry.models.upload import POLICIES
from registry.pages.downloads import template_links
from registry.pages.gate import clinic_in, members_page, require
from registry.pages.lists import list_page
from registry.pages.visit_entry import NO_AGREEMENT
from registry.pages.words import say
from registry.reading.uploads import upload_get, upload_problems, uploads_of

SHOWN_PROBLEMS: Final = 200
RUNNING: Final = ("received", "reading", "storing")
_NO_FILE: Final = "Choose a file first."


@dataclass(frozen=True, slots=True)
class ProblemRow:
    """One fault of the file: its place, its code, and what to do; never the value."""

    row: int | None
    column: str | None
    code: str
    detail: str


@require_http_methods(["GET", "POST"])
@members_page("upload_read")
def uploads(request: HttpRequest, access: Access) -> HttpResponse:
    """The files sent so far; a POST sends one."""
    if request.method != "POST":
        return _page(request, access)
    require(access, "upload_create")
    return _receive(request, access)


def _receive(request: HttpRequest, access: Access) -> HttpResponse:
    # Reading the files is what finds out whether they are too large.
    file = request.FILES.get("file")
    if getattr(request, "upload_too_large", False):
        return render(request, "413.html", status=413)
    policy = request.POST.get("policy", POLICIES[0])
    create_missing = request.POST.get("create_missing") == "true"
    if create_missing:
        require(access, "upload_create_missing")
    if file is None or policy not in POLICIES:
        return _page(request, access, refused=_NO_FILE, status=400)
    try:
        upload, is_new = upload_receive(
            clinic=clinic_in(access),
            stream=file,  # type: ignore[arg-type]
            by=access.actor,
            at=timezone.now(),
            policy=policy,
            create_missing=create_missing,
        )
    except FileRefused as refused:
        return _page(request, access, refused=_refusal(refused), status=422)
    except NoAgreement:
        return _page(request, access, refused=NO_AGREEMENT, status=409)
    if not is_new:
        messages.info(request, "This file was sent before; here is what became of it.")
    return redirect("upload", upload.id)


@require_safe
@members_page("upload_read")
def upload(request: HttpRequest, access: Access, upload_id: UUID) -> HttpResponse:
    found = _upload(access, upload_id)
    problems = upload_problems(clinic=clinic_in(access), upload_id=upload_id)
    is_finished = found.state not in RUNNING
    context = {
        "upload": found,
        "sha256": bytes(found.sha256).hex(),
        "problems": [_row(one) for one in problems[:SHOWN_PROBLEMS]],
        "problem_count": problems.count(),
        "running": not is_finished,
        "may_undo": may(access.role, "upload_undo") and is_finished and found.undone_at is None,
        "may_purge": may(access.role, "upload_purge") and is_finished,
    }
    return render(request, "uploads/page.html", context)


@require_safe
@members_page("upload_read")
def problems_csv(request: HttpRequest, access: Access, upload_id: UUID) -> HttpResponse:
    """Every problem of the file: row, column, code, what to do."""
    _upload(access, upload_id)
    text = StringIO()
    writer = csv.writer(text)
    writer.writerow(["row", "column", "code", "detail"])
    for one in upload_problems(clinic=clinic_in(access), upload_id=upload_id).iterator():
        row = _row(one)
        writer.writerow([row.row, row.column, row.code, row.detail])
    response = HttpResponse(text.getvalue(), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="problems.csv"'
    return response


@require_http_methods(["GET", "POST"])
@members_page("upload_undo")
def undo(request: HttpRequest, access: Access, upload_id: UUID) -> HttpResponse:
    _upload(access, upload_id)
    if request.method != "POST":
        return _confirm(
            request,
            upload_id,
            heading="Undo this upload?",
            line="All visits that this file brought are withdrawn: they stay readable, but take"
            " no part in any statistic or release. The file may then be sent again.",
            submit="Undo this upload",
        )
    withdrawn = upload_undo(
        clinic=clinic_in(access), upload_id=upload_id, by=access.actor, at=timezone.now()
    )
    messages.success(request, f"Undone; visits withdrawn: {withdrawn}.")
    return redirect("upload", upload_id)


@require_http_methods(["GET", "POST"])
@members_page("upload_purge")
def purge(request: HttpRequest, access: Access, upload_id: UUID) -> HttpResponse:
    _upload(access, upload_id)
    if request.method != "POST":
        return _confirm(
            request,
            upload_id,
            heading="Remove all trace of this upload?",
            line="The visits that this file brought, their history and this report are removed"
            " for good. This is for a file in which persons can be recognised. It cannot be"
            " taken back.",
            submit="Remove all trace",
        )
    upload_purge(clinic=clinic_in(access), upload_id=upload_id, by=access.actor, at=timezone.now())
    messages.success(request, "All trace of the file is removed.")
    return redirect("uploads")


def _upload(access: Access, upload_id: UUID) -> Upload:
    try:
        return upload_get(clinic=clinic_in(access), upload_id=upload_id)
    except UploadNotFound:
        raise Http404 from None


def _page(
    request: HttpRequest, access: Access, *, refused: str = "", status: int = 200
) -> HttpResponse:
    sent = list_page(uploads_of(clinic=clinic_in(access)), request.GET)
    context = {
        "uploads": sent.rows,
        "page": sent,
        "refused": refused,
        "templates": template_links(),
        "policies": [(code, say("upload_policy", code)) for code in POLICIES],
        "policy": request.POST.get("policy", POLICIES[0]),
    }
    return render(request, "uploads/list.html", context, status=status)


def _refusal(refused: FileRefused) -> str:
    place = f"Row {refused.row}. " if refused.row else ""
    if isinstance(refused.column, int):
        place += f"Column number {refused.column}. "
    elif refused.column:
        place += f"Column {refused.column}. "
    return place + DETAIL[refused.code]


def _row(problem: UploadProblem) -> ProblemRow:
    detail = DETAIL.get(problem.code) or say("conflict", problem.code)
    return ProblemRow(problem.row, problem.column, problem.code, detail)


def _confirm(request: HttpRequest, upload_id: UUID, **words: Any) -> HttpResponse:
    return render(request, "uploads/confirm.html", {"upload_id": upload_id, **words})
