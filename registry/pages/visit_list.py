"""The list of visits: filtered, newest first, older and newer pages."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from registry.access.requests import Access
from registry.caloric import vocabulary
from registry.intake.checks.values import Wrong, checker_for
from registry.intake.faults import Fault
from registry.intake.fields import Field
from registry.pages.assessment_words import said_assessment
from registry.pages.figures import percent_words, total_words
from registry.pages.finding_words import SAFETY
from registry.pages.gate import members_page
from registry.pages.inputs import FormState, Input, make_input, read_input, summary
from registry.pages.lists import list_page
from registry.pages.moments import day_words, month_words
from registry.pages.words import say
from registry.reading.bodies import body_json, visit_bodies
from registry.reading.visits import VisitFilters, view_is_reduced, visits_visible

FILTERS: Final[Mapping[str, Field]] = {
    "clinic": Field("clinic", "code", "Code of a clinic."),
    "tester": Field("tester", "code", "Code of a tester."),
    "irrigator": Field("irrigator", "code", "Code of an irrigator."),
    "medium": Field("medium", "word", "Medium.", words=vocabulary.MEDIA),
    "date_from": Field("from", "date", "First day."),
    "date_to": Field("to", "date", "Last day."),
    "finding": Field("finding", "word", "A finding.", words=vocabulary.FINDINGS),
    "assessment": Field("assessment", "word", "An assessment.", words=vocabulary.ASSESSMENTS),
    "withdrawn": Field("withdrawn", "yes_no", "Withdrawn."),
}
# All that a visit with one temperature has to say of the ears.
_PAIRS: Final = (
    ("monothermal_warm_percent", "warm pair alone"),
    ("monothermal_cool_percent", "cool pair alone"),
)


@dataclass(frozen=True, slots=True)
class VisitRow:
    """One line of the list, in words."""

    address: str
    title: str
    when: str
    tester: str
    irrigator: str
    total: str
    weakness: str
    assessments: list[str]
    findings: int
    safety: bool
    withdrawn: bool


@require_safe
@members_page("visit_read")
def visit_list(request: HttpRequest, access: Access) -> HttpResponse:
    reduced = view_is_reduced(access)
    filters, faults = _filters(request)
    state = FormState.of(dict(request.GET.lists()), faults)
    inputs = _inputs(state, reduced=reduced)
    everything = visits_visible(access, VisitFilters())
    # What was refused must not come back in the links to older and newer pages.
    query = QueryDict() if faults else request.GET
    asked = visits_visible(access, filters)
    # A list that left out one filter would be taken for the list that was asked for.
    page = list_page(asked.none() if faults else asked, query, places=everything)
    bodies = [body_json(one, reduced=reduced, beats=False) for one in visit_bodies(page.rows)]
    context = {
        "rows": [_row(one) for one in bodies],
        "page": page,
        "filters": inputs,
        "filtered": filters.any() or bool(faults),
        "problems": summary(state, inputs, {}),
        "problems_title": "The list cannot be filtered so",
        "reduced": reduced,
    }
    return render(request, "visits/list.html", context, status=400 if faults else 200)


def _filters(request: HttpRequest) -> tuple[VisitFilters, list[Fault]]:
    """What the address asks for; a filter that cannot be read is a fault, never ignored."""
    asked: dict[str, Any] = {}
    faults: list[Fault] = []
    for name, field in FILTERS.items():
        typed = read_input(field, dict(request.GET.lists()), field.name)
        value = None if typed is None else checker_for(field)(typed)
        if isinstance(value, Wrong):
            faults.append(Fault(f"/{field.name}", value.code))
        else:
            asked[name] = value
    return VisitFilters(**asked), faults


def _inputs(state: FormState, *, reduced: bool) -> list[Input]:
    shown = [one for name, one in FILTERS.items() if reduced or name != "clinic"]
    return [make_input(one, state, blank="any") for one in shown]


def _row(body: Mapping[str, Any]) -> VisitRow:
    indices, codes = body["indices"], [one["code"] for one in body["findings"]]
    total = indices["total_spv"]
    when = body.get("visit_date")
    return VisitRow(
        address=reverse("visit", args=[body["id"]]),
        title=body.get("visit_ref") or f"Visit at {body['clinic']}, age {body['age_band']}",
        when=day_words(when) if when else month_words(body["visit_month"]),
        tester=body["tester"],
        irrigator=body["irrigator"],
        total="undefined" if total is None else total_words(total, places=0),
        weakness=_weakness(indices),
        assessments=_criteria(body["assessments"]),
        findings=len(codes),
        safety=SAFETY in codes,
        withdrawn=body["withdrawn"],
    )


def _weakness(indices: Mapping[str, Any]) -> str:
    value = indices["unilateral_weakness_percent"]
    if value is not None:
        return percent_words("unilateral_weakness_percent", value)
    for name, words in _PAIRS:
        if indices["undefined_reason"] == "monothermal" and indices[name] is not None:
            return f"{words}: {percent_words(name, indices[name])}"
    return say("undefined_reason", indices["undefined_reason"])


def _criteria(assessments: Sequence[Mapping[str, Any]]) -> list[str]:
    """What is met, then in one entry all that stays undetermined."""
    said = [said_assessment(one).title for one in assessments if one["code"] != "undetermined"]
    open_ones = [
        say("criterion", one["criterion"]) for one in assessments if one["code"] == "undetermined"
    ]
    if not open_ones:
        return said
    return [*said, f"{say('assessment', 'undetermined')}: {', '.join(open_ones)}"]
