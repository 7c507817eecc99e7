"""One clinic: its results by month with its testers, and who worked with what."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from analytics.dashboards.about_subject import shown_scale
from analytics.dashboards.disclosure import large_enough, may_compare
from analytics.dashboards.figures.clinic import Deviation, Line, attribution, together
from analytics.dashboards.figures.parts import many
from analytics.dashboards.figures.scale import Scale, occasions
from analytics.dashboards.figures.style import Json
from analytics.dashboards.limits import Year, ratio
from analytics.dashboards.sources import SHOWN_MONTHS, Floats, Source, Subjects
from analytics.dashboards.words import subject_says
from analytics.measures import catalogue

# By whom and with what these results came about can be told apart.
ATTRIBUTED: Final = (
    "response_level",
    "right_left_balance",
    "direction_balance",
    "warm_cool_ratio",
)
RECENT_MONTHS: Final = 3
YEAR_MONTHS: Final = 12


def clinic_content(source: Source, clinic_id: int) -> Json:
    """The clinic's results by month, and deviations by tester, irrigator and recorder."""
    figures: dict[str, Json] = {}
    if clinic_id in source.of_clinics.place:
        for measure in catalogue().of("clinic"):
            if measure.group == "results" and measure.id in source.of_clinics.years:
                figures |= _months(source, clinic_id, measure.id)
        for name in ATTRIBUTED:
            figures |= _attribution(source, clinic_id, name)
    return {"figures": figures, "facts": {"clinic": source.clinics[clinic_id].code}}


def _months(source: Source, clinic_id: int, name: str) -> dict[str, Json]:
    year = source.of_clinics.years[name]
    at = source.of_clinics.place[clinic_id]
    may = may_compare(year.clinics, own=clinic_id) and year.centre is not None
    scale = shown_scale(year, at, may)
    own = _line(source.of_clinics, at, name, source.clinics[clinic_id].code)
    if not own.n.any():
        return {}
    compared = source.compared("clinic", source.clinics[clinic_id].public_id).get(name) or {}
    figure = together(
        source.of_clinics.months,
        own,
        _testers(source, clinic_id, name),
        year.centre if may else None,
        scale,
        title=year.measure.title,
        says=subject_says(year, at, scale, compared if may else None),
        footer=(
            "Months on fewer than eleven visits are left out, for the clinic and for each tester."
            " Faint lines: testers, named by code."
        ),
        occasions=occasions(year.measure),
    )
    return {f"month_{name}": figure}


def _testers(source: Source, clinic_id: int, name: str) -> list[Line]:
    """The clinic's testers by code."""
    found = []
    for tester, at in source.testers.place.items():
        if source.testers.tallies.clinics[at] == clinic_id:
            code = source.tester_codes.get(tester, "?")  # type: ignore[call-overload]
            found.append(_line(source.testers, at, name, code))
    return sorted((one for one in found if one.n.any()), key=lambda one: one.name)


def _line(subjects: Subjects, at: int, name: str, label: str) -> Line:
    part = np.s_[subjects.tallies.measures.index(name), at, -SHOWN_MONTHS:]
    n, s = subjects.tallies.n[part], subjects.tallies.s[part]
    keep = large_enough(n, subjects.visits[at, -SHOWN_MONTHS:])
    return Line(label, np.where(keep, n, 0.0), ratio(s, np.where(keep, n, 0.0)))


def _attribution(source: Source, clinic_id: int, name: str) -> dict[str, Json]:
    year = source.testers.years[name]
    if not may_compare(year.clinics, own=clinic_id) or year.centre is None:
        return {}
    scale = shown_scale(year, 0, True)
    found, left_out = _deviations(source, clinic_id, name, year, scale)
    if not found:
        return {}
    figure = attribution(
        found,
        title=f"{year.measure.title}: who worked with what",
        says=_says(found, left_out),
        footer=(
            "Value less the network's centre of testers, last complete months, like with like;"
            " combinations on fewer than eleven visits are left out."
        ),
        unit=scale.unit.replace(" more or less than the network's centre", ""),
        decimals=scale.decimals,
    )
    return {f"attribution_{name}": figure}


def _says(found: list[Deviation], left_out: int) -> str:
    year = [one.year for one in found if one.year is not None]
    above, below = sum(one > 0 for one in year), sum(one < 0 for one in year)
    said = (
        f"{many(len(found), 'combination')} of tester, irrigator and recorder in twelve months:"
        f" {above} above the network's centre, {below} below it, on"
        f" {many(sum(one.n_year for one in found), 'visit')}."
    )
    return said + (
        f" {many(left_out, 'combination')} with too few visits left out." if left_out else ""
    )


def _deviations(
    source: Source, clinic_id: int, name: str, year: Year, scale: Scale
) -> tuple[list[Deviation], int]:
    tallies = source.combined
    measure = tallies.measures.index(name)
    found, left_out = [], 0
    for at in np.flatnonzero(tallies.clinics == clinic_id).tolist():
        n = tallies.n[measure, at]
        if not n[-YEAR_MONTHS:].any():
            continue
        # These measures count one a visit at most, so that n is never more than the visits.
        one = _deviation(source, tallies.testers[at], n, tallies.s[measure, at], year, scale)
        if one.year is None:
            left_out += 1
        else:
            found.append(one)
    return sorted(found, key=lambda one: (one.irrigator, one.tester, one.recorder)), left_out


def _deviation(
    source: Source, triple: Any, n: Floats, s: Floats, year: Year, scale: Scale
) -> Deviation:
    tester, irrigator, recorder = triple
    recent, n_recent = _less_centre(n[-RECENT_MONTHS:], s[-RECENT_MONTHS:], year, scale)
    whole, n_whole = _less_centre(n[-YEAR_MONTHS:], s[-YEAR_MONTHS:], year, scale)
    return Deviation(
        tester=source.tester_codes.get(tester, "?"),
        irrigator=source.irrigator_codes.get(irrigator, "?"),
        recorder=source.recorder_codes.get(recorder, "?") if recorder else "not named",
        n_recent=n_recent,
        recent=recent,
        n_year=n_whole,
        year=whole,
    )


def _less_centre(n: Floats, s: Floats, year: Year, scale: Scale) -> tuple[float | None, float]:
    total = float(n.sum())
    if not large_enough(n.sum()[None], n.sum()[None])[0] or year.centre is None:
        return None, 0.0
    value, centre = scale.one(float(s.sum()) / total), scale.one(year.centre)
    return (None if value is None or centre is None else value - centre), total
