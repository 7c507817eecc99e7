"""A visit as rows of the database, and the rows as a visit again. No queries here.

Peaks, fixation and beats are stored positive in the expected direction, whatever convention
they came in; ``as_sent`` turns them back, so that a recomputation starts where the first
computation did.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from datetime import datetime
from typing import Any, Final
from uuid import UUID

import numpy as np

from registry.caloric.compute import Computed
from registry.caloric.indices import Indices
from registry.caloric.responses import normalise
from registry.caloric.visit import (
    Background,
    Beats,
    Irrigation,
    Otoscopy,
    Recording,
    Reported,
    Spontaneous,
    Visit,
)
from registry.models import Irrigation as IrrigationRow
from registry.models import ResponseBeats
from registry.models import Visit as VisitRow

Row = dict[str, Any]

_BLOCKS: Final[Mapping[str, type[Any]]] = {
    "spontaneous": Spontaneous,
    "otoscopy": Otoscopy,
    "background": Background,
    "recording": Recording,
    "reported": Reported,
}
_PLAIN: Final = (
    "visit_ref",
    "visit_date",
    "age_years",
    "sex",
    "visit_kind",
    "medium",
    "protocol_planned",
    "head_elevation_deg",
    "incomplete_reason",
    "adverse_event",
)
_IRRIGATION_PLAIN: Final = (
    "ear",
    "stimulus",
    "attempt",
    "order_in_visit",
    "started_at",
    "set_temperature_c",
    "measured_temperature_c",
    "measured_by",
    "duration_s",
    "volume_ml",
    "peak_spv",
    "peak_basis",
    "beat_direction",
    "pre_fixation_spv",
    "fixation_spv",
    "fixation_from_s",
    "fixation_to_s",
    "baseline_spv",
    "vertical_component",
    "position",
    "usable",
    "repeat_reason",
    "earlier_attempts_not_sent",
    "medium",
)
_BLOCK_FIELDS: Final = {
    name: tuple(field.name for field in fields(kind)) for name, kind in _BLOCKS.items()
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Codes:
    """What the clinic's codes stand for: ids by code, as they were on the day of the visit."""

    subject: UUID
    tester: Mapping[str, UUID]
    irrigator: Mapping[str, UUID]
    recorder: Mapping[str, UUID]


def as_kept(visit: Visit) -> Visit:
    """The visit as it will be stored: beats in single precision.

    The peak is computed from what is kept, so that a later recomputation gives the same bits.
    """
    if not any(one.beats for one in visit.irrigations):
        return visit
    kept = tuple(
        replace(one, beats=_single(one.beats)) if one.beats else one for one in visit.irrigations
    )
    return replace(visit, irrigations=kept)


def _single(beats: Beats) -> Beats:
    return Beats(
        tuple(np.asarray(beats.time_s, dtype=np.float32).astype(float).tolist()),
        tuple(np.asarray(beats.spv, dtype=np.float32).astype(float).tolist()),
    )


def as_compared(visit: Visit) -> Visit:
    """The form in which two sendings are compared: peaks turned to the expected-positive sign.

    A clinic that changes its export from one signed convention to another has not changed its
    results. Unsigned magnitudes stay apart: they say less.
    """
    return visit if visit.sign_convention == "unsigned" else normalise(visit)


def visit_row(sent: Visit, computed: Computed, codes: Codes) -> Row:
    """The columns of ``registry_visit`` that come from the visit itself."""
    row: Row = {name: getattr(sent, name) for name in _PLAIN}
    for block, names in _BLOCK_FIELDS.items():
        value = getattr(sent, block)
        row |= {f"{block}_{name}": value and getattr(value, name) for name in names}
    return row | {
        "subject_id": codes.subject,
        "tester_id": codes.tester[sent.tester],
        "irrigator_id": codes.irrigator[sent.irrigator],
        "recorder_id": codes.recorder[sent.recorder] if sent.recorder else None,
        "sign_convention": sent.sign_convention,
        "directions_known": computed.directions_known,
        "protocol_done": computed.protocol_done,
        "from_clinic_default": list(sent.from_clinic_default),
    }


def irrigation_rows(sent: Visit, computed: Computed, codes: Codes) -> list[Row]:
    """The columns of ``registry_irrigation``, one row each, without the visit's key."""
    return [
        _irrigation_row(position, one, sent.irrigations[position], computed, codes)
        for position, one in enumerate(computed.visit.irrigations)
    ]


def _irrigation_row(
    position: int, one: Irrigation, sent: Irrigation, computed: Computed, codes: Codes
) -> Row:
    response = computed.responses[position]
    row: Row = {name: getattr(one, name) for name in _IRRIGATION_PLAIN}
    return row | {
        "position_in_visit": position,
        "unusable_reason": list(one.unusable_reason),
        "counts_as_sent": sent.counts,
        "tester_id": codes.tester[one.tester] if one.tester else None,
        "irrigator_id": codes.irrigator[one.irrigator] if one.irrigator else None,
        "peak_set_by_id": codes.tester[one.peak_set_by] if one.peak_set_by else None,
        "counted": response.counts,
        "computed_peak_spv": response.computed_peak_spv,
        "computed_peak_se": response.se,
        "culmination_time_s": response.culmination_time_s,
        "kept_beats": response.kept_beats,
        "no_peak_reason": response.reason,
    }


def beats_rows(computed: Computed) -> list[Row]:
    """The columns of ``registry_responsebeats`` for the irrigations that have beats."""
    return [
        {
            "ear": one.ear,
            "stimulus": one.stimulus,
            "attempt": one.attempt,
            "time_s": _array(one.beats.time_s),
            "spv": _array(one.beats.spv),
        }
        for one in computed.visit.irrigations
        if one.beats
    ]


def _array(values: tuple[float, ...]) -> str:
    """An array as PostgreSQL writes it; nine digits bring single precision back exactly.

    Written here because the driver's own way took half of the whole loading time.
    """
    return "{" + ",".join([f"{value:.9g}" for value in values]) + "}"


_INDEX_COLUMNS: Final = tuple(field.name for field in fields(Indices))


def result_row(computed: Computed, *, criteria_set_id: int, computed_at: datetime) -> Row:
    """The columns of ``registry_visitresult``, without the visit's key."""
    first = computed.indices_first_attempt
    row: Row = {name: getattr(computed.indices, name) for name in _INDEX_COLUMNS}
    return row | {
        "criteria_set_id": criteria_set_id,
        "indices_first_attempt": json.dumps(first.as_json()) if first else None,
        "assessment_codes": [one.code for one in computed.assessments],
        "assessments": json.dumps([one.as_json() for one in computed.assessments]),
        "finding_codes": sorted({one.code for one in computed.findings}),
        "findings": json.dumps([one.as_json() for one in computed.findings]),
        "computed_at": computed_at,
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeNames:
    """The way back: codes by id, for one clinic."""

    subject: Mapping[UUID, str]
    tester: Mapping[UUID, str]
    irrigator: Mapping[UUID, str]
    recorder: Mapping[UUID, str]


def visit_from_rows(
    row: VisitRow,
    irrigations: Iterable[IrrigationRow],
    beats: Mapping[tuple[str, str, int], ResponseBeats],
    names: CodeNames,
) -> Visit:
    """The stored visit, peaks positive in the expected direction.

    ``sign_convention`` is ``unsigned`` where it came so, for then some directions may not be
    known; any other convention was turned into ``expected_positive`` for good.
    """
    stored = Visit(
        **{name: getattr(row, name) for name in _PLAIN},
        **{block: _block(row, block) for block in _BLOCKS},
        subject_ref=names.subject[row.subject_id],
        tester=names.tester[row.tester_id],
        irrigator=names.irrigator[row.irrigator_id],
        recorder=names.recorder[row.recorder_id] if row.recorder_id else None,
        irrigations=tuple(
            _irrigation(one, beats.get((one.ear, one.stimulus, one.attempt)), names)
            for one in sorted(irrigations, key=lambda one: one.position_in_visit)
        ),
        from_clinic_default=tuple(row.from_clinic_default),
    )
    return as_sent(stored, "unsigned") if row.sign_convention == "unsigned" else stored


def as_sent(stored: Visit, convention: str) -> Visit:
    """Turn a stored visit back into the convention it came in.

    Turning is a change of sign by a rule of the convention alone, so turning twice undoes it.
    """
    turned = normalise(replace(stored, sign_convention=convention))
    return replace(turned, sign_convention=convention)


def _block(row: VisitRow, block: str) -> Any:
    values = {name: getattr(row, f"{block}_{name}") for name in _BLOCK_FIELDS[block]}
    recorded = any(value is not None for value in values.values())
    return _BLOCKS[block](**values) if recorded else None


def _irrigation(one: IrrigationRow, beats: ResponseBeats | None, names: CodeNames) -> Irrigation:
    values = {name: getattr(one, name) for name in _IRRIGATION_PLAIN}
    if one.peak_basis == "computed_v1":
        # It was not sent but computed from the beats, and will be computed again.
        values |= {"peak_spv": None, "peak_basis": None}
    return Irrigation(
        **values,
        unusable_reason=tuple(one.unusable_reason),
        counts=one.counts_as_sent,
        tester=names.tester[one.tester_id] if one.tester_id else None,
        irrigator=names.irrigator[one.irrigator_id] if one.irrigator_id else None,
        peak_set_by=names.tester[one.peak_set_by_id] if one.peak_set_by_id else None,
        beats=_beats(beats),
    )


def _beats(row: ResponseBeats | None) -> Beats | None:
    # The database prints single precision shortly (41.2); the kept value is the single one.
    return _single(Beats(tuple(row.time_s), tuple(row.spv))) if row else None
