"""Irrigators: whether they may be used, their temperature checks, and recording one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final
from uuid import UUID

from django.contrib import messages
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from registry.access.permissions import may
from registry.access.requests import Access
from registry.models import Clinic, Irrigator, TemperatureCheck
from registry.pages.check_form import check_forms, sent_check
from registry.pages.devices import add_device
from registry.pages.figures import rounded
from registry.pages.gate import clinic_in, members_page, require
from registry.pages.home import out_of_use
from registry.pages.inputs import FormState, summary
from registry.pages.lists import list_page
from registry.pages.moments import day_words, moment_words
from registry.pages.roster_form import change_texts, roster_inputs
from registry.roster.body import RosterRefused
from registry.roster.devices import DeviceNotFound, device_get, devices_of
from registry.roster.fields import DEVICE_FIELDS
from registry.roster.temperature_checks import (
    CheckDiffers,
    CheckNotFound,
    RecordedCheck,
    temperature_check_record,
    temperature_check_withdraw,
    temperature_checks_of,
)

_DIFFERS: Final = "check_differs"


@dataclass(frozen=True, slots=True)
class CheckRow:
    """One temperature check in words."""

    check: TemperatureCheck
    set_to: str
    reading: str
    tolerance: str
    thermometer: str


@require_http_methods(["GET", "POST"])
@members_page("device_read")
def irrigators(request: HttpRequest, access: Access) -> HttpResponse:
    state, status = FormState(), 200
    if request.method == "POST":
        again, status = add_device(request, access, "irrigators")
        if again is None:
            return redirect("irrigators")
        state = again
    inputs = roster_inputs(DEVICE_FIELDS, state)
    context = {
        "rows": _lines(access),
        "out_of_use": out_of_use(access),
        "may_write": may(access.role, "device_write"),
        "inputs": inputs,
        "problems": summary(state, inputs, {}),
    }
    return render(request, "irrigators/list.html", context, status=status)


@require_http_methods(["GET", "POST"])
@members_page("device_read")
def irrigator(request: HttpRequest, access: Access, irrigator_id: UUID) -> HttpResponse:
    """One irrigator; a POST records a temperature check."""
    found = _irrigator(access, irrigator_id)
    if request.method != "POST":
        return _page(request, access, found, FormState())
    require(access, "temperature_check_write")
    texts, now = dict(request.POST.lists()), timezone.now()
    try:
        recorded = temperature_check_record(
            clinic=clinic_in(access),
            data=sent_check(texts, irrigator=found.code, now=now, zone=access.zone()),
            by=access.actor,
            at=now,
        )
    except RosterRefused as refused:
        return _page(request, access, found, FormState.of(texts, refused.faults), status=422)
    except CheckDiffers:
        state = FormState(texts, {"checked_at": [_DIFFERS]})
        return _page(request, access, found, state, status=409)
    messages.success(request, _said(recorded))
    return redirect("irrigator", irrigator_id)


@require_POST
@members_page("temperature_check_withdraw")
def check_withdraw(request: HttpRequest, access: Access, check_id: UUID) -> HttpResponse:
    clinic = clinic_in(access)
    check = temperature_checks_of(clinic=clinic).filter(id=check_id).first()
    try:
        temperature_check_withdraw(
            clinic=clinic, check_id=check_id, by=access.actor, at=timezone.now()
        )
    except CheckNotFound:
        raise Http404 from None
    messages.success(request, "The check is withdrawn; it takes no part in anything any more.")
    return redirect("irrigator", check.irrigator_id) if check else redirect("irrigators")


def _irrigator(access: Access, irrigator_id: UUID) -> Irrigator:
    try:
        return device_get(Irrigator, clinic=clinic_in(access), device_id=irrigator_id)
    except DeviceNotFound:
        raise Http404 from None


def _said(recorded: RecordedCheck) -> str:
    check = recorded.check
    said = f"Recorded: {rounded(check.reading_c, 1)} °C, "
    if check.within_tolerance:
        return f"{said}within tolerance."
    if recorded.confirming_reading_needed:
        return f"{said}out of tolerance. Take a second reading now to confirm it."
    return f"{said}out of tolerance again. The irrigator is out of use."


def _page(
    request: HttpRequest,
    access: Access,
    found: Irrigator,
    state: FormState,
    *,
    status: int = 200,
) -> HttpResponse:
    checks = temperature_checks_of(clinic=clinic_in(access)).filter(irrigator_id=found.id)
    page = list_page(checks, request.GET)
    forms = check_forms(state, clinic=clinic_in(access), irrigator_id=found.id)
    shown = [one for form in forms if form.is_asked for one in (*form.main, *form.more)]
    context = {
        "irrigator": found,
        "to_confirm": _to_confirm(found),
        "facts": _facts(access, found),
        "checks": [_check(one) for one in page.rows],
        "page": page,
        "check_forms": forms,
        "problems": summary(state, shown, {}),
        "may_check": may(access.role, "temperature_check_write") and not found.retired_at,
        "may_withdraw": may(access.role, "temperature_check_withdraw"),
        "may_write": may(access.role, "device_write"),
        "change": roster_inputs(DEVICE_FIELDS[1:], FormState(change_texts(DEVICE_FIELDS, found))),
    }
    return render(request, "irrigators/page.html", context, status=status)


def _to_confirm(found: Irrigator) -> list[TemperatureCheck]:
    """Last checks out of tolerance that no second reading has confirmed yet.

    The message after a reading is gone with the next page; whoever comes later must see it too.
    """
    if found.out_of_use_since or found.retired_at:
        return []
    newest = _newest_checks(found.clinic).filter(irrigator=found)
    return [one for one in newest if not one.within_tolerance]


def _facts(access: Access, found: Irrigator) -> list[tuple[str, str]]:
    state = "in service"
    if found.out_of_use_since:
        state = f"out of use since {moment_words(found.out_of_use_since, access.zone())}"
    if found.retired_at:
        state = f"retired on {day_words(found.retired_at)}"
    return [
        ("state", state),
        ("in service from", day_words(found.in_service_from)),
        ("calibration due", day_words(found.calibration_due)),
    ]


def _lines(access: Access) -> list[dict[str, Any]]:
    clinic = clinic_in(access)
    last = {(one.irrigator_id, one.stimulus): one for one in _newest_checks(clinic)}
    return [
        {"device": one, "to_confirm": _any_failed(last, one)}
        | {name: _last(access, last.get((one.id, name))) for name in ("warm", "cool")}
        for one in devices_of(Irrigator, clinic=clinic)
    ]


def _any_failed(last: dict[tuple[UUID, str], TemperatureCheck], device: Irrigator) -> bool:
    checks = (last.get((device.id, name)) for name in ("warm", "cool"))
    return any(one is not None and not one.within_tolerance for one in checks)


def _newest_checks(clinic: Clinic) -> QuerySet[TemperatureCheck]:
    """The newest check in force of each irrigator and stimulus, all in one query."""
    return (
        temperature_checks_of(clinic=clinic)
        .filter(withdrawn_at=None)
        .order_by("irrigator_id", "stimulus", "-checked_at", "-id")
        .distinct("irrigator_id", "stimulus")
    )


def _last(access: Access, check: TemperatureCheck | None) -> str:
    if check is None:
        return "none yet"
    verdict = "within tolerance" if check.within_tolerance else "out of tolerance"
    return f"{moment_words(check.checked_at, access.zone())}: {verdict}"


def _check(check: TemperatureCheck) -> CheckRow:
    return CheckRow(
        check=check,
        set_to=f"{rounded(check.set_temperature_c, 1)} °C",
        reading=f"{rounded(check.reading_c, 1)} °C",
        tolerance=f"{check.tolerance_c:g} °C",
        thermometer=check.thermometer.code if check.thermometer else "thermometer not recorded",
    )
