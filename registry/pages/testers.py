"""Testers of the clinic: the list, one more, a change."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from registry.access.permissions import may
from registry.access.requests import Access
from registry.pages.gate import clinic_in, members_page, require
from registry.pages.inputs import FormState, summary
from registry.pages.roster_form import (
    change_texts,
    code_taken,
    roster_inputs,
    sent_change,
    sent_new,
)
from registry.roster.body import RosterRefused
from registry.roster.conflicts import CodeInUse
from registry.roster.fields import TESTER_FIELDS
from registry.roster.testers import (
    TesterNotFound,
    tester_change,
    tester_create,
    tester_get,
    testers_of,
)


@require_http_methods(["GET", "POST"])
@members_page("tester_read")
def testers(request: HttpRequest, access: Access) -> HttpResponse:
    if request.method != "POST":
        return _page(request, access, FormState())
    require(access, "tester_write")
    texts = dict(request.POST.lists())
    data = sent_new(TESTER_FIELDS, texts)
    try:
        tester_create(clinic=clinic_in(access), data=data, by=access.actor, at=timezone.now())
    except RosterRefused as refused:
        return _page(request, access, FormState.of(texts, refused.faults), status=422)
    except CodeInUse:
        return _page(request, access, code_taken(texts), status=409)
    messages.success(request, "The tester is added.")
    return redirect("testers")


@require_http_methods(["GET", "POST"])
@members_page("tester_write")
def tester(request: HttpRequest, access: Access, tester_id: UUID) -> HttpResponse:
    """Change what is known of a tester; the code stays, since earlier visits go by it."""
    clinic = clinic_in(access)
    try:
        found = tester_get(clinic=clinic, tester_id=tester_id)
    except TesterNotFound:
        raise Http404 from None
    state, status = FormState(change_texts(TESTER_FIELDS, found)), 200
    if request.method == "POST":
        texts = dict(request.POST.lists())
        data = sent_change(TESTER_FIELDS, texts)
        try:
            tester_change(
                clinic=clinic, tester_id=tester_id, data=data, by=access.actor, at=timezone.now()
            )
        except RosterRefused as refused:
            state, status = FormState.of(texts, refused.faults), 422
        else:
            messages.success(request, "The change is stored.")
            return redirect("testers")
    inputs = roster_inputs(TESTER_FIELDS[1:], state)
    context = {
        "heading": f"Tester {found.code}",
        "inputs": inputs,
        "problems": summary(state, inputs, {}),
        "back": reverse("testers"),
    }
    return render(request, "parts/change.html", context, status=status)


def _page(
    request: HttpRequest, access: Access, state: FormState, *, status: int = 200
) -> HttpResponse:
    inputs = roster_inputs(TESTER_FIELDS, state)
    context = {
        "rows": testers_of(clinic=clinic_in(access)),
        "may_write": may(access.role, "tester_write"),
        "inputs": inputs,
        "problems": summary(state, inputs, {}),
    }
    return render(request, "testers/list.html", context, status=status)
