"""One visit's body turned into what its page says, from top to bottom."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import tzinfo
from typing import Any, Final

from registry.pages.assessment_words import SaidAssessment, said_assessment
from registry.pages.figures import beating_words, percent_words, rounded, total_words
from registry.pages.finding_words import SaidFinding, grouped
from registry.pages.index_rows import IndexRow, main_rows, other_rows
from registry.pages.irrigation_rows import IrrigationRow, irrigation_rows
from registry.pages.labels import label_of
from registry.pages.moments import day_words, moment_words, month_words
from registry.pages.words import NOT_RECORDED, say

Json = Mapping[str, Any]
Pairs = list[tuple[str, str]]


# Findings that say the stimulus may have been other than it was set.
_HEAT: Final = frozenset(
    {"temperature_out_of_tolerance", "after_failed_check", "before_failed_check"}
)


@dataclass(frozen=True, slots=True)
class VisitDisplay:
    """Everything the page of a visit says; ``reported`` rows are label, printed, recomputed."""

    title: str
    safety: list[SaidFinding]
    findings: list[SaidFinding]
    assessments: list[SaidAssessment]
    main: list[IndexRow]
    others: list[IndexRow]
    first_attempt: list[IndexRow]
    rows: list[IrrigationRow]
    facts: Pairs
    circumstances: Pairs
    reported: list[tuple[str, str, str]]
    provenance: Pairs
    inverted: bool
    heat: bool


def visit_display(visit: Json, zone: tzinfo) -> VisitDisplay:
    findings = grouped(visit.get("findings") or ())
    rows = irrigation_rows(visit, zone)
    indices = visit["indices"]
    first = visit.get("indices_first_attempt")
    return VisitDisplay(
        title=visit_title(visit),
        safety=[one for one in findings if one.is_safety],
        findings=[one for one in findings if not one.is_safety],
        assessments=[said_assessment(one) for one in visit.get("assessments") or ()],
        main=main_rows(indices),
        others=other_rows(indices),
        first_attempt=main_rows(first) if first else [],
        rows=rows,
        facts=_facts(visit),
        circumstances=_circumstances(visit),
        reported=_reported(visit, indices),
        provenance=_provenance(visit, zone),
        inverted=any(row.against for row in rows),
        heat=any(one.code in _HEAT for one in findings),
    )


def visit_title(visit: Json) -> str:
    """By its reference; in the reduced view by its month, since references are not shown."""
    if visit.get("visit_ref"):
        return f"Visit {visit['visit_ref']}"
    return f"Visit at {visit.get('clinic') or 'a clinic'}, {month_words(visit.get('visit_month'))}"


def _facts(visit: Json) -> Pairs:
    if visit.get("visit_date"):
        when = ("date", day_words(visit["visit_date"]))
    else:
        when = ("month", month_words(visit.get("visit_month")))
    pairs = [when, ("clinic", visit.get("clinic") or NOT_RECORDED)]
    if visit.get("subject_ref"):
        pairs.append(("subject", visit["subject_ref"]))
    pairs += [
        ("age", _age(visit)),
        ("sex", say("sex", visit.get("sex"))),
        ("kind of visit", say("visit_kind", visit.get("visit_kind"))),
        ("tester", visit.get("tester") or NOT_RECORDED),
        ("irrigator", visit.get("irrigator") or NOT_RECORDED),
        ("recorder", visit.get("recorder") or NOT_RECORDED),
        ("medium", say("medium", visit.get("medium"))),
        ("planned", say("protocol_planned", visit.get("protocol_planned"))),
        ("done", say("protocol_done", visit.get("protocol_done"))),
    ]
    return pairs


def _age(visit: Json) -> str:
    if visit.get("age_band"):
        return f"{visit['age_band']} years"
    age = visit.get("age_years")
    if age is None:
        return NOT_RECORDED
    return "90 years or more" if age >= 90 else f"{age} years"


def _circumstances(visit: Json) -> Pairs:
    spontaneous = visit.get("spontaneous") or {}
    otoscopy = visit.get("otoscopy") or {}
    pairs = [
        ("otoscopy, right ear", say("otoscopy.right", otoscopy.get("right"))),
        ("otoscopy, left ear", say("otoscopy.left", otoscopy.get("left"))),
        ("spontaneous nystagmus", beating_words(spontaneous.get("spv"))),
        ("its kind", say("spontaneous.kind", spontaneous.get("kind"))),
        ("in the peaks", say("spontaneous.handling", spontaneous.get("handling"))),
        ("head above the horizontal", _degrees(visit.get("head_elevation_deg"))),
    ]
    pairs += _group(visit, "background", _BACKGROUND) + _group(visit, "recording", _RECORDING)
    pairs += [
        ("why not finished", say("incomplete_reason", visit.get("incomplete_reason"))),
        ("adverse event", say("adverse_event", visit.get("adverse_event"))),
        ("signs as sent", say("sign_convention", visit.get("sign_convention_sent"))),
    ]
    return pairs


_BACKGROUND = (
    ("referral_group", "referred for"),
    ("onset_band", "complaint began"),
    ("symptomatic_ear", "ear with complaints"),
    ("suppressants_48h", "vestibular suppressants in 48 hours"),
)
_RECORDING = (
    ("method", "recorded by"),
    ("eye", "eye recorded"),
    ("vision_denied", "vision denied"),
    ("alerting", "alerting tasks"),
)


def _group(visit: Json, group: str, fields: tuple[tuple[str, str], ...]) -> Pairs:
    held = visit.get(group) or {}
    return [(label, say(f"{group}.{name}", held.get(name))) for name, label in fields]


def _degrees(value: float | None) -> str:
    return NOT_RECORDED if value is None else f"{value:g} degrees"


def _reported(visit: Json, indices: Json) -> list[tuple[str, str, str]]:
    """What the clinic's own system printed, beside what the registry computed."""
    sent = visit.get("reported") or {}
    rows = []
    for name, label, side in (
        ("unilateral_weakness_percent", "unilateral weakness", "lower_side"),
        (
            "directional_preponderance_percent",
            "directional preponderance",
            "preponderance_direction",
        ),
    ):
        if sent.get(name) is not None:
            printed = f"{rounded(sent[name], 1)} %, {say(f'reported.{side}', sent.get(side))}"
            rows.append((label, printed, _ours(indices, name)))
    if sent.get("total_spv") is not None:
        total = indices.get("total_spv")
        ours = _undefined(indices) if total is None else total_words(total)
        rows.append(("total response", f"{rounded(sent['total_spv'], 1)} deg/s", ours))
    return rows


def _ours(indices: Json, name: str) -> str:
    value = indices.get(name)
    return _undefined(indices) if value is None else percent_words(name, value, places=1)


def _undefined(indices: Json) -> str:
    return say("undefined_reason", indices.get("undefined_reason") or "missing_irrigation")


def _default_name(pointer: str) -> str:
    """A pointer to a field in words, with the place of its irrigation."""
    parts = pointer.strip("/").split("/")
    if parts[0] == "irrigations" and len(parts) == 3:
        return f"{label_of(parts[2]).lower()} of irrigation {int(parts[1]) + 1}"
    return label_of(".".join(parts)).lower()


def _provenance(visit: Json, zone: tzinfo) -> Pairs:
    criteria = visit.get("criteria_set") or {}
    pairs = [
        ("criteria set", f"{criteria.get('name')}, version {criteria.get('version')}"),
        ("method of computing", f"version {visit['indices'].get('method_version')}"),
        ("version of this visit", str(visit.get("version") or 1)),
    ]
    if visit.get("received_at"):
        pairs.append(("received", moment_words(visit["received_at"], zone)))
    if visit.get("received_via"):
        pairs.append(("came by", say("received_via", visit["received_via"])))
    if visit.get("from_clinic_default"):
        names = ", ".join(map(_default_name, visit["from_clinic_default"]))
        pairs.append(("filled in from the clinic's defaults", names))
    return pairs
