"""Correcting a stored visit, and withdrawing one."""

from __future__ import annotations

from dataclasses import replace
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from registry.access.requests import Access
from registry.caloric.vocabulary import AMENDMENT_REASONS
from registry.intake.checks import visit_to_json
from registry.intake.context import NoAgreement
from registry.intake.fields import Field
from registry.intake.submit import (
    VersionMismatch,
    VisitConflict,
    VisitNotFound,
    VisitRefused,
    visit_amend,
    visit_withdraw,
)
from registry.pages.choices import roster_choices
from registry.pages.gate import clinic_in, members_page
from registry.pages.inputs import FormState, make_input
from registry.pages.visit_display import visit_title
from registry.pages.visit_entry import NO_AGREEMENT, unchecked
from registry.pages.visit_form import VisitForm, read_visit_form, visit_form
from registry.pages.visit_page import seen_body
from registry.pages.visit_prefill import carry_beats, prefilled
from registry.pages.words import say
from registry.reading.bodies import VisitBody, visit_body
from registry.reading.visits import visit_get

REASON = Field(
    "amendment_reason", "word", "Why it is amended.", words=AMENDMENT_REASONS, needed=True
)
CHANGED_MEANWHILE = (
    "Somebody changed this visit while you had it open. Nothing was stored. Open it again and"
    " amend what stands there now."
)


@require_http_methods(["GET", "POST"])
@members_page("visit_amend")
def amend(request: HttpRequest, access: Access, visit_id: UUID) -> HttpResponse:
    """The stored visit in its form; a POST replaces it, the old version is kept."""
    body = _stored(access, visit_id)
    stored = visit_to_json(body.stored.visit)
    if request.method != "POST":
        texts = prefilled(stored, access.zone())
        return _page(request, access, FormState(texts), visit_id, body.row.version)
    texts = dict(request.POST.lists())
    expected = _number(request.POST.get("expected_version"))
    sent = read_visit_form(texts, zone=access.zone())
    carry_beats(sent.data, sent.places, texts, stored)
    try:
        visit_amend(
            clinic=clinic_in(access),
            visit_id=visit_id,
            data=sent.data,
            reason=request.POST.get("amendment_reason", ""),
            expected_version=expected,
            by=access.actor,
            at=timezone.now(),
        )
    except VisitRefused as refused:
        state = FormState.of(texts, sent.back_to_form(refused.faults))
        return _page(request, access, state, visit_id, expected, status=422)
    except (VersionMismatch, VisitConflict, NoAgreement) as conflict:
        return _page(
            request,
            access,
            unchecked(texts),
            visit_id,
            expected,
            notice=_notice(conflict),
            status=409,
        )
    messages.success(request, "The amendment is stored; the version before it is kept.")
    return redirect("visit", visit_id)


@require_http_methods(["GET", "POST"])
@members_page("visit_withdraw")
def withdraw(request: HttpRequest, access: Access, visit_id: UUID) -> HttpResponse:
    """Ask once more, then take the visit out of every statistic and release."""
    body = seen_body(access, visit_id)
    if request.method != "POST":
        context = {"title": visit_title(body), "back": reverse("visit", args=[visit_id])}
        return render(request, "visits/withdraw.html", context)
    visit_withdraw(clinic=clinic_in(access), visit_id=visit_id, by=access.actor, at=timezone.now())
    messages.success(request, "The visit is withdrawn.")
    return redirect("visit", visit_id)


def _stored(access: Access, visit_id: UUID) -> VisitBody:
    try:
        return visit_body(visit_get(access, visit_id))
    except VisitNotFound:
        raise Http404 from None


def _number(text: str | None) -> int:
    """The version that was read; 0, which no version has, where the form lost it."""
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 9 else 0


def _notice(conflict: Exception) -> str:
    if isinstance(conflict, VersionMismatch):
        return CHANGED_MEANWHILE
    if isinstance(conflict, VisitConflict):
        return say("conflict", conflict.code)
    return NO_AGREEMENT


def _page(
    request: HttpRequest,
    access: Access,
    state: FormState,
    visit_id: UUID,
    expected_version: int,
    *,
    status: int = 200,
    **more: Any,
) -> HttpResponse:
    form = visit_form(state, roster_choices(clinic_in(access)))
    context = {
        "form": _with_fixed_code(form),
        "heading": "Amend a visit",
        "action": reverse("visit-amend", args=[visit_id]),
        "back": reverse("visit", args=[visit_id]),
        "submit": "Store the amendment",
        "amending": True,
        "amendment": [make_input(REASON, state)],
        "expected_version": expected_version,
        **more,
    }
    return render(request, "visits/form.html", context, status=status)


def _with_fixed_code(form: VisitForm) -> VisitForm:
    """The code of a visit is what it is known by; another code would be another visit."""
    (title, inputs), *others = form.sections
    fixed = [replace(one, kind="fixed") if one.name == "visit_ref" else one for one in inputs]
    return replace(form, sections=[(title, fixed), *others])
