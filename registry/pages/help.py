"""The help page: cautions, words, signs, formulas and limits with their sources."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from registry.access.requests import Access
from registry.caloric.criteria import DEFAULT_CRITERIA, Limit
from registry.caloric.procedure import Procedure
from registry.pages.gate import members_page
from registry.pages.words import FIELD_WORDS

_LIMITS: Final = {
    "unilateral_weakness": ("unilateral weakness above", "%"),
    "directional_preponderance": ("directional preponderance above", "%"),
    "gain_asymmetry": ("gain asymmetry above", "%"),
    "low_total_response": ("total response below", "deg/s"),
    "unsteady_percentages": ("percentages called unsteady: total response below", "deg/s"),
    "percentages_undetermined": (
        "weakness and preponderance undetermined: total response below",
        "deg/s",
    ),
    "ear_totals_differ": ("unless the ear totals lie apart by at least", "deg/s"),
    "low_ear_total": ("ear total below", "deg/s"),
    "both_ear_totals_below_6": (
        "caloric criterion of bilateral vestibulopathy: each ear below",
        "deg/s",
    ),
    "both_ear_totals_above_6": (
        "caloric criterion of presbyvestibulopathy: each ear above",
        "deg/s",
    ),
    "both_ear_totals_below_25": ("and each ear below", "deg/s"),
    "age_60_up": ("and from the age of", "years"),
    "large_response": ("large response: ear total above", "deg/s"),
    "fixation_index_above_limit": ("fixation index at or above", ""),
    "warm_screen_asymmetry": ("warm screen: asymmetry below", "%"),
    "warm_screen_response": ("warm screen: each warm response above", "deg/s"),
    "warm_screen_spontaneous": ("warm screen: spontaneous nystagmus below", "deg/s"),
}


@dataclass(frozen=True, slots=True)
class SaidLimit:
    title: str
    value: str
    source: str


@require_safe
@members_page()
def help_page(request: HttpRequest, access: Access) -> HttpResponse:
    context = {
        "conventions": FIELD_WORDS["sign_convention"].items(),
        "undefined": FIELD_WORDS["undefined_reason"].items(),
        "findings": FIELD_WORDS["finding"].items(),
        "limits": [_said(one) for one in DEFAULT_CRITERIA.limits],
        "tolerance": f"{Procedure().temperature_tolerance_c:g}",
    }
    return render(request, "help.html", context)


def _said(limit: Limit) -> SaidLimit:
    title, unit = _LIMITS[limit.code]
    return SaidLimit(title, f"{limit.value:g} {unit}".strip(), limit.source)
