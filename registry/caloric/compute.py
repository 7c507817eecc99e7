"""From what was sent to everything that is computed of it: the one way in.

Formulas run on all visits of a chunk at once, which is what makes a large upload quick; one
visit is a chunk of one and gives the same figures.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, tzinfo
from typing import Final

import numpy as np

from registry.caloric.assessments import assess
from registry.caloric.case import Case
from registry.caloric.criteria import DEFAULT_CRITERIA, Assessment, CriteriaSet
from registry.caloric.equipment import TemperatureReading
from registry.caloric.findings import Finding, find_all
from registry.caloric.fixation import denominator
from registry.caloric.formulas import Floats
from registry.caloric.indices import HANDLING_CODES, Indices, compute_indices
from registry.caloric.peaks import BeatPeak, peak_from_beats
from registry.caloric.procedure import Procedure
from registry.caloric.responses import (
    counted,
    counting_names,
    directions_known,
    normalise,
    protocol_done,
)
from registry.caloric.spontaneous import formula_values, level_in_cell
from registry.caloric.visit import Irrigation, Visit

# The order in which compute_indices takes the four cells.
_CELL_ORDER: Final = ("right_warm", "right_cool", "left_warm", "left_cool")
_NOTHING: Final = math.nan
_NO_BEATS: Final = BeatPeak(None, None, None, 0, "no_beats")
DEFAULT_PROCEDURE: Final = Procedure()


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One visit to compute, and the rules to compute it by.

    ``checks``: readings around the visit date that were not withdrawn, ``None`` where nothing is
    known of the equipment. ``tz`` is the clinic's. ``directions_known`` is judged from the visit
    as sent; a visit read back from the store is normalised already and must say it.
    """

    visit: Visit
    criteria: CriteriaSet = DEFAULT_CRITERIA
    procedure: Procedure = DEFAULT_PROCEDURE
    checks: Sequence[TemperatureReading] | None = None
    tz: tzinfo = UTC
    directions_known: bool | None = None


@dataclass(frozen=True, slots=True)
class Response:
    """What was made of one irrigation.

    ``computed_peak_spv`` and ``se`` (deg/s), ``culmination_time_s`` and ``kept_beats`` come from
    its beats, ``reason`` says why they gave no peak (``no_beats``, or that of ``BeatPeak``).
    ``fixation_base`` is what the fixation index divides by: ``pre_fixation``, ``peak`` or
    ``None``. ``counts``: this attempt stands for its cell.
    """

    name: str
    cell: str
    counts: bool
    peak_spv: float | None
    peak_basis: str | None
    computed_peak_spv: float | None
    se: float | None
    culmination_time_s: float | None
    kept_beats: int | None
    reason: str | None
    fixation_base: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Computed:
    """One visit and all that follows from it.

    ``visit`` is normalised, its missing peaks filled in from beats. ``indices_first_attempt`` is
    ``None`` where no later attempt counts, so that it would say the same again.
    """

    visit: Visit
    indices: Indices
    indices_first_attempt: Indices | None
    assessments: tuple[Assessment, ...]
    findings: tuple[Finding, ...]
    responses: tuple[Response, ...]
    protocol_done: str
    directions_known: bool
    criteria: CriteriaSet


def compute_visit(
    visit: Visit,
    *,
    criteria: CriteriaSet = DEFAULT_CRITERIA,
    procedure: Procedure = DEFAULT_PROCEDURE,
    checks: Sequence[TemperatureReading] | None = None,
    tz: tzinfo = UTC,
    directions_known: bool | None = None,
) -> Computed:
    """Everything that is computed of one visit; the arguments are those of ``Job``."""
    job = Job(
        visit=visit,
        criteria=criteria,
        procedure=procedure,
        checks=checks,
        tz=tz,
        directions_known=directions_known,
    )
    return compute_visits([job])[0]


def compute_visits(jobs: Sequence[Job]) -> list[Computed]:
    """Everything that is computed of each visit, in order."""
    prepared = [_prepare(job) for job in jobs]
    repeated = [one for one in prepared if one.first_attempts is not None]
    rows = [_row(one, one.counted) for one in prepared]
    rows += [_row(one, one.first_attempts) for one in repeated if one.first_attempts is not None]
    indices = _indices_of(rows)
    first = {id(one): found for one, found in zip(repeated, indices[len(prepared) :], strict=True)}
    return [
        _finish(one, found, first.get(id(one)))
        for one, found in zip(prepared, indices, strict=False)
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Prepared:
    job: Job
    visit: Visit
    sent_peaks: Mapping[str, float]
    beat_peaks: Mapping[str, BeatPeak]
    counted: Mapping[str, Irrigation]
    first_attempts: Mapping[str, Irrigation] | None
    protocol_done: str
    directions_known: bool


def _prepare(job: Job) -> _Prepared:
    visit = normalise(job.visit)
    known = directions_known(job.visit) if job.directions_known is None else job.directions_known
    beat_peaks = {
        one.name: peak
        for one in visit.irrigations
        if (peak := peak_from_beats(one, spontaneous_level=_level(visit, one, known)))
    }
    filled = _with_computed_peaks(visit, beat_peaks) if beat_peaks else visit
    counting, first = counted(filled), counted(filled, first_attempt=True)
    return _Prepared(
        job=job,
        visit=filled,
        sent_peaks={
            one.name: one.peak_spv for one in visit.irrigations if one.peak_spv is not None
        },
        beat_peaks=beat_peaks,
        counted=counting,
        first_attempts=None if _same_attempts(counting, first) else first,
        protocol_done=protocol_done(filled),
        directions_known=known,
    )


def _level(visit: Visit, one: Irrigation, all_known: bool) -> float:
    # Beats without a direction are magnitudes: a signed level would mean nothing beside them.
    return level_in_cell(visit, one) if all_known or one.beat_direction else 0.0


def _with_computed_peaks(visit: Visit, beat_peaks: Mapping[str, BeatPeak]) -> Visit:
    """The visit with ``computed_v1`` peaks where none was sent and the beats gave one."""
    irrigations = []
    for one in visit.irrigations:
        beats = beat_peaks.get(one.name)
        if one.peak_spv is None and beats is not None and beats.peak_spv is not None:
            irrigations.append(replace(one, peak_spv=beats.peak_spv, peak_basis="computed_v1"))
        else:
            irrigations.append(one)
    return replace(visit, irrigations=tuple(irrigations))


def _same_attempts(one: Mapping[str, Irrigation], other: Mapping[str, Irrigation]) -> bool:
    return all(one[cell] is other[cell] for cell in one)


def _row(one: _Prepared, cells: Mapping[str, Irrigation]) -> list[float]:
    """The numbers of one visit as ``compute_indices`` takes them, NaN where there is none."""
    chosen = [cells.get(cell) for cell in _CELL_ORDER]
    spontaneous, handling = formula_values(one.visit)
    row = [_NOTHING if x is None or x.peak_spv is None else x.peak_spv for x in chosen]
    row += [_NOTHING if x is None or x.fixation_spv is None else x.fixation_spv for x in chosen]
    row += [_NOTHING if x is None else denominator(x)[0] for x in chosen]
    row += [_NOTHING if x is None else _se(one.beat_peaks.get(x.name)) for x in chosen]
    row += [spontaneous, HANDLING_CODES[handling], one.protocol_done.startswith("monothermal")]
    return row


def _se(beats: BeatPeak | None) -> float:
    return _NOTHING if beats is None or beats.se is None else beats.se


def _indices_of(rows: list[list[float]]) -> list[Indices]:
    if not rows:
        return []
    # Column by column in memory, as the formulas read them.
    columns = np.array(rows, np.float64).T.copy()
    return compute_indices(
        *columns[0:4],
        fixation=_recorded(columns[4:8]),
        before_fixation=_recorded(columns[8:12]),
        standard_errors=_recorded(columns[12:16]),
        spontaneous=columns[16],
        handling=columns[17],
        monothermal_done=columns[18],
    ).rows()


def _recorded(four: Floats) -> list[Floats] | None:
    """The four columns, or ``None`` where nobody recorded any: it spares their formulas."""
    return None if np.isnan(four).all() else list(four)


def _finish(one: _Prepared, indices: Indices, first_attempt: Indices | None) -> Computed:
    job = one.job
    names = counting_names(one.visit)
    case = Case(
        visit=one.visit,
        counted=one.counted,
        counting_names=names,
        protocol_done=one.protocol_done,
        indices=indices,
        criteria=job.criteria,
        procedure=job.procedure,
        checks=job.checks,
        tz=job.tz,
        beat_peaks=one.beat_peaks,
        sent_peaks=one.sent_peaks,
        directions_known=one.directions_known,
    )
    return Computed(
        visit=one.visit,
        indices=indices,
        indices_first_attempt=first_attempt,
        assessments=assess(case),
        findings=find_all(case),
        responses=tuple(
            _response(x, one.beat_peaks.get(x.name), x.name in names) for x in one.visit.irrigations
        ),
        protocol_done=one.protocol_done,
        directions_known=one.directions_known,
        criteria=job.criteria,
    )


def _response(one: Irrigation, beats: BeatPeak | None, counts: bool) -> Response:
    found = beats or _NO_BEATS
    return Response(
        name=one.name,
        cell=one.cell,
        counts=counts,
        peak_spv=one.peak_spv,
        peak_basis=one.peak_basis,
        computed_peak_spv=found.peak_spv,
        se=found.se,
        culmination_time_s=found.culmination_time_s,
        kept_beats=None if beats is None else beats.kept_beats,
        reason=found.reason,
        fixation_base=denominator(one)[1],
    )
