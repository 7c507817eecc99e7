"""Entering one visit by hand, and making its random codes."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from registry.access.requests import Access
from registry.intake.context import NoAgreement
from registry.intake.faults import IDENTIFIER_CODE
from registry.intake.guard import looks_like_identifier
from registry.intake.subject_codes import mint
from registry.intake.submit import VisitConflict, VisitRefused, visit_submit
from registry.pages.choices import roster_choices
from registry.pages.gate import clinic_in, members_page
from registry.pages.inputs import FormState, Texts
from registry.pages.visit_form import read_visit_form, visit_form
from registry.pages.words import say

NO_AGREEMENT = (
    "Your network has no agreement in force, so nothing may be stored. Ask its coordinator."
)


@require_http_methods(["GET", "POST"])
@members_page("visit_create")
def visit_new(request: HttpRequest, access: Access) -> HttpResponse:
    """The empty form; a POST stores the visit or shows the form again with every problem."""
    if request.method != "POST":
        return _page(request, access, FormState())
    texts = dict(request.POST.lists())
    sent = read_visit_form(texts, zone=access.zone())
    try:
        submitted = visit_submit(
            clinic=clinic_in(access), data=sent.data, by=access.actor, at=timezone.now(), via="form"
        )
    except VisitRefused as refused:
        state = FormState.of(texts, sent.back_to_form(refused.faults))
        return _page(request, access, state, status=422)
    except VisitConflict as conflict:
        notice = say("conflict", conflict.code)
        return _page(request, access, FormState(texts), notice=notice, status=409)
    except NoAgreement:
        return _page(request, access, unchecked(texts), notice=NO_AGREEMENT, status=409)
    stored = "The visit is stored." if submitted.created else "This visit was stored already."
    messages.success(request, stored)
    return redirect("visit", submitted.visit_id)


@require_POST
@members_page("subject_code_mint")
def codes(request: HttpRequest, access: Access) -> HttpResponse:
    """New random codes in the form, where none was typed; everything typed is kept."""
    texts = dict(request.POST.lists())
    minted = []
    for name, prefix, label in (("visit_ref", "V", "visit"), ("subject_ref", "S", "subject")):
        if not any(text.strip() for text in texts.get(name, ())):
            texts[name] = [mint(prefix)]
            minted.append((label, texts[name][0]))
    return _page(request, access, unchecked(texts), minted=minted)


def unchecked(texts: Texts) -> FormState:
    """What was typed, before it was checked as a visit; what looks like an identifier is out."""
    refused = [
        name
        for name in ("visit_ref", "subject_ref")
        if any(looks_like_identifier(text.strip()) for text in texts.get(name, ()))
    ]
    return FormState(texts, {name: [IDENTIFIER_CODE] for name in refused})


def _page(
    request: HttpRequest, access: Access, state: FormState, *, status: int = 200, **more: Any
) -> HttpResponse:
    context = {
        "form": visit_form(state, roster_choices(clinic_in(access))),
        "heading": "Enter a visit",
        "action": reverse("visit-new"),
        "submit": "Store this visit",
        "amending": False,
        **more,
    }
    return render(request, "visits/form.html", context, status=status)
