"""Was the stimulus delivered as it should be: medium, duration, rest, and a whole drum?"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from registry.caloric.case import OPEN_DRUMS, Case
from registry.caloric.findings.finding import Finding
from registry.caloric.visit import Irrigation

_TOLERANCE = 1e-9


def open_water_with_open_drum(case: Case) -> Iterator[Finding]:
    """Open water in an ear whose drum was recorded open, usable response or not.

    ``detail`` is what otoscopy found. Ice is poured as water unless its own medium says more.
    """
    for one in case.visit.irrigations:
        medium = one.medium or ("water_open" if one.stimulus == "ice" else case.visit.medium)
        drum = case.drum(one.ear)
        if medium == "water_open" and drum in OPEN_DRUMS:
            yield Finding("open_water_with_open_drum", one.name, drum)


def mixed_medium(case: Case) -> Iterator[Finding]:
    """The counted irrigations were not all of one medium.

    ``detail``: ``between_ears`` where one temperature came to the ears in different media, else
    ``between_temperatures``.
    """
    media = {cell: case.medium(one) for cell, one in case.counted.items()}
    if len(set(media.values())) < 2:
        return
    ears_differ = any(
        media.get(f"right_{stimulus}", other) != other
        for stimulus in ("warm", "cool")
        if (other := media.get(f"left_{stimulus}")) is not None
    )
    yield Finding("mixed_medium", None, "between_ears" if ears_differ else "between_temperatures")


def duration_out_of_tolerance(case: Case) -> Iterator[Finding]:
    """More than 5 s from the planned duration of its medium (common practice).

    ``value`` is the duration minus the planned one. Ice has no planned duration.
    """
    limit = case.procedure.duration_tolerance_s
    for one in case.visit.irrigations:
        planned = case.procedure.planned_duration_s(case.medium(one))
        if not one.usable or one.stimulus == "ice" or one.duration_s is None or planned is None:
            continue
        off = one.duration_s - planned
        if abs(off) > limit + _TOLERANCE:
            yield Finding("duration_out_of_tolerance", one.name, None, off, limit)


def short_rest(case: Case) -> Iterator[Finding]:
    """Less than 5 min from the end of one irrigation to the start of the next.

    Japanese practice, Kanehara textbook 37132T p. 103; other protocols count 7 min from start to
    start (from memory). Responses that were not usable were delivered all the same, so they
    count. With the duration not recorded the time from start to start is the most the rest can
    have been. Named is the later irrigation; ``value`` in s.
    """
    started = [(one.started_at, one) for one in case.visit.irrigations if one.started_at]
    started.sort(key=lambda pair: pair[0])
    limit = case.procedure.rest_s
    for (before_at, before), (after_at, after) in pairwise(started):
        rest = (after_at - before_at).total_seconds() - _counted_duration(case, before)
        if rest < limit - _TOLERANCE:
            yield Finding("short_rest", after.name, None, rest, limit)


def _counted_duration(case: Case, irrigation: Irrigation) -> float:
    if case.procedure.rest_measured == "start_to_start":
        return 0.0
    return irrigation.duration_s or 0.0
