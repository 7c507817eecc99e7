"""A stored visit as the JSON body that readers get, whole or reduced."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from registry.intake.checks import visit_to_json
from registry.intake.stored import StoredVisit, stored_visits
from registry.models import Clinic, CriteriaSet, Irrigation, Visit, VisitResult
from registry.models.result import INDEX_NUMBERS

Body = dict[str, Any]

_BY_CELL: Final = (
    "right_warm",
    "left_warm",
    "right_cool",
    "left_cool",
    "right_beating",
    "left_beating",
    "overall",
)
# A lead sees neither who it was, nor the day or hour: an age band of five years, a month.
_HIDDEN: Final = ("visit_ref", "subject_ref", "visit_date", "age_years")
_HIDDEN_IN_IRRIGATION: Final = ("started_at",)
_BAND: Final = 5


@dataclass(frozen=True, slots=True)
class VisitBody:
    """What the pages and the API show of one visit, read in bulk for a whole page of them."""

    row: Visit
    stored: StoredVisit
    result: VisitResult
    clinic: Clinic
    criteria: CriteriaSet


def visit_bodies(rows: Sequence[Visit]) -> list[VisitBody]:
    """The bodies' parts for these rows, in their order: a handful of queries for any number."""
    results = {
        result.visit_id: result
        for result in VisitResult.objects.filter(
            clinic_id__in={row.clinic_id for row in rows}, visit_id__in=[row.id for row in rows]
        ).select_related("criteria_set")
    }
    clinics = Clinic.objects.in_bulk({row.clinic_id for row in rows})
    return [
        VisitBody(
            row=stored.row,
            stored=stored,
            result=results[stored.row.id],
            clinic=clinics[stored.row.clinic_id],
            criteria=results[stored.row.id].criteria_set,
        )
        for stored in stored_visits(rows)
    ]


def visit_body(row: Visit) -> VisitBody:
    return visit_bodies([row])[0]


def body_json(body: VisitBody, *, reduced: bool, beats: bool = True) -> Body:
    """The whole body; ``reduced`` is the lead's view, ``beats`` may be left out of lists."""
    row = body.row
    sent = _sent(body, reduced=reduced, beats=beats)
    return sent | {
        "id": str(row.id),
        "clinic": body.clinic.code,
        "version": row.version,
        "withdrawn_at": None if reduced else _moment(row.withdrawn_at),
        "withdrawn": row.withdrawn_at is not None,
        "received_at": None if reduced else _moment(row.received_at),
        "received_via": row.received_via,
        "sign_convention_sent": row.sign_convention,
        "directions_known": row.directions_known,
        "protocol_done": row.protocol_done,
        "from_clinic_default": row.from_clinic_default,
        "indices": indices_json(body.result),
        "indices_first_attempt": body.result.indices_first_attempt,
        "assessments": body.result.assessments,
        "criteria_set": {"name": body.criteria.name, "version": body.criteria.version},
        "findings": body.result.findings,
        "responses": [_response(one) for one in body.stored.irrigations],
    }


def _sent(body: VisitBody, *, reduced: bool, beats: bool) -> Body:
    sent: Body = visit_to_json(body.stored.visit)
    for one, row in zip(sent["irrigations"], body.stored.irrigations, strict=True):
        one["counts"] = row.counted
        if row.peak_basis == "computed_v1":
            one |= {"peak_spv": row.peak_spv, "peak_basis": row.peak_basis}
        if not beats:
            one.pop("beats", None)
        if reduced:
            _hide(one, _HIDDEN_IN_IRRIGATION)
    if reduced:
        sent["visit_month"] = f"{body.row.visit_date:%Y-%m}"
        sent["age_band"] = age_band(body.row.age_years)
        _hide(sent, _HIDDEN)
    return sent


def _hide(body: Body, names: Sequence[str]) -> None:
    for name in names:
        body.pop(name, None)


def age_band(age: int) -> str:
    """Five years wide; 90 and above is one band (45 CFR 164.514(b)(2)(i)(C))."""
    low = age - age % _BAND
    return "90+" if age >= 90 else f"{low}-{low + _BAND - 1}"


def indices_json(result: VisitResult) -> Body:
    """The stored indices in the shape that ``Indices.as_json`` gives fresh ones."""
    body: Body = {
        name: getattr(result, name)
        for name in INDEX_NUMBERS
        if not name.startswith("fixation_index")
    }
    return body | {
        "lower_side": result.lower_side,
        "preponderance_direction": result.preponderance_direction,
        "fixation_index": {cell: getattr(result, f"fixation_index_{cell}") for cell in _BY_CELL},
        "undefined_reason": result.undefined_reason,
        "method_version": result.method_version,
    }


def _response(row: Irrigation) -> Body:
    return {
        "irrigation": str(row),
        "counts": row.counted,
        "peak_spv": row.peak_spv,
        "peak_basis": row.peak_basis,
        "computed_peak_spv": row.computed_peak_spv,
        "computed_peak_se": row.computed_peak_se,
        "culmination_time_s": row.culmination_time_s,
        "kept_beats": row.kept_beats,
        "no_peak_reason": row.no_peak_reason,
    }


def _moment(value: Any) -> str | None:
    return None if value is None else value.isoformat().replace("+00:00", "Z")
