"""The first page: what may be done here, a line each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from registry.access.permissions import may
from registry.access.requests import Access
from registry.models import Irrigator
from registry.pages.gate import members_page
from registry.roster.devices import devices_of


@dataclass(frozen=True, slots=True)
class Door:
    """A way in; ``action`` is what one must be allowed to do to be shown it."""

    page: str
    action: str | None
    title: str
    line: str

    @property
    def address(self) -> str:
        return reverse(self.page)


DOORS: Final = (
    Door("visit-new", "visit_create", "Enter a visit", "One finished caloric test, by hand."),
    Door("uploads", "upload_create", "Send a file", "Many visits at once, with a problem report."),
    Door("visits", "visit_read", "Visits", "What was sent, with every index computed here."),
    Door("irrigators", "device_read", "Irrigators", "Their temperature checks and state."),
    Door("testers", "tester_read", "Testers", "Codes, experience and active days."),
    Door("devices", "device_read", "Recorders and thermometers", "Codes and days of service."),
    Door("help", None, "Help", "Cautions, words, signs, formulas and sources, privacy."),
)


@require_safe
@members_page()
def home(request: HttpRequest, access: Access) -> HttpResponse:
    doors = [one for one in DOORS if one.action is None or may(access.role, one.action)]
    return render(request, "home.html", {"doors": doors, "out_of_use": out_of_use(access)})


def out_of_use(access: Access) -> list[Irrigator]:
    """Irrigators of the clinic that failed their checks and are not retired."""
    if access.clinic is None or not may(access.role, "device_read"):
        return []
    return list(
        devices_of(Irrigator, clinic=access.clinic).filter(
            out_of_use_since__isnull=False, retired_at=None
        )
    )
