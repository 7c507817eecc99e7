"""Recorders and thermometers: the lists, one more, a change (of irrigators too)."""

from __future__ import annotations

from typing import Any, Final
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from registry.access.permissions import may
from registry.access.requests import Access
from registry.models import Irrigator, Recorder, Thermometer
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
from registry.roster.devices import (
    DeviceNotFound,
    device_change,
    device_create,
    device_get,
    devices_of,
)
from registry.roster.fields import DEVICE_FIELDS

Kind = type[Irrigator] | type[Recorder] | type[Thermometer]
KINDS: Final[dict[str, Kind]] = {
    "irrigators": Irrigator,
    "recorders": Recorder,
    "thermometers": Thermometer,
}
_ON_THIS_PAGE: Final = ("recorders", "thermometers")


@require_http_methods(["GET", "POST"])
@members_page("device_read")
def devices(request: HttpRequest, access: Access) -> HttpResponse:
    if request.method != "POST":
        return _page(request, access, {})
    name = request.POST.get("kind", "")
    if name not in _ON_THIS_PAGE:
        raise Http404
    state, status = add_device(request, access, name)
    if state is None:
        return redirect("devices")
    return _page(request, access, {name: state}, status=status)


def add_device(request: HttpRequest, access: Access, name: str) -> tuple[FormState | None, int]:
    """Add what was typed; the form to show again and its status, or ``None`` where it worked."""
    require(access, "device_write")
    texts = dict(request.POST.lists())
    try:
        device_create(
            KINDS[name],  # type: ignore[type-var]
            clinic=clinic_in(access),
            data=sent_new(DEVICE_FIELDS, texts),
            by=access.actor,
            at=timezone.now(),
        )
    except RosterRefused as refused:
        return FormState.of(texts, refused.faults), 422
    except CodeInUse:
        return code_taken(texts), 409
    messages.success(request, f"The {name.removesuffix('s')} is added.")
    return None, 200


@require_http_methods(["GET", "POST"])
@members_page("device_write")
def device(request: HttpRequest, access: Access, kind: str, device_id: UUID) -> HttpResponse:
    """Change what is known of a device, for example retire it; its label stays."""
    clinic = clinic_in(access)
    try:
        found: Any = device_get(KINDS[kind], clinic=clinic, device_id=device_id)  # type: ignore[type-var]
    except (KeyError, DeviceNotFound):
        raise Http404 from None
    back = reverse("irrigator", args=[device_id]) if kind == "irrigators" else reverse("devices")
    state, status = FormState(change_texts(DEVICE_FIELDS, found)), 200
    if request.method == "POST":
        state, status = _change(request, access, KINDS[kind], device_id)
        if status == 200:
            messages.success(request, "The change is stored.")
            return redirect(back)
    inputs = roster_inputs(DEVICE_FIELDS[1:], state)
    context = {
        "heading": f"{kind.removesuffix('s').capitalize()} {found.code}",
        "inputs": inputs,
        "problems": summary(state, inputs, {}),
        "back": back,
    }
    return render(request, "parts/change.html", context, status=status)


def _change(
    request: HttpRequest, access: Access, kind: Kind, device_id: UUID
) -> tuple[FormState, int]:
    texts = dict(request.POST.lists())
    try:
        device_change(
            kind,  # type: ignore[type-var]
            clinic=clinic_in(access),
            device_id=device_id,
            data=sent_change(DEVICE_FIELDS, texts),
            by=access.actor,
            at=timezone.now(),
        )
    except RosterRefused as refused:
        return FormState.of(texts, refused.faults), 422
    except CodeInUse:
        return FormState(texts, {"": ["code_in_use"]}), 409
    return FormState(texts), 200


def _page(
    request: HttpRequest, access: Access, states: dict[str, FormState], *, status: int = 200
) -> HttpResponse:
    kinds = [_kind(access, name, states.get(name, FormState())) for name in _ON_THIS_PAGE]
    context = {"kinds": kinds, "may_write": may(access.role, "device_write")}
    return render(request, "devices/list.html", context, status=status)


def _kind(access: Access, name: str, state: FormState) -> dict[str, Any]:
    inputs = roster_inputs(DEVICE_FIELDS, state)
    return {
        "name": name,
        "title": name.capitalize(),
        "one": name.removesuffix("s"),
        "rows": devices_of(KINDS[name], clinic=clinic_in(access)),
        "today": timezone.now().astimezone(access.zone()).date(),
        # Two forms stand on one page, and an id may stand on it once.
        "inputs": [one.within(name) for one in inputs],
        "problems": summary(state, [one.within(name) for one in inputs], {}),
    }
