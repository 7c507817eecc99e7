"""A measure over a network: its funnel and its control chart, for leads and site leads."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from analytics.dashboards.disclosure import SMALLEST_CELL, may_compare
from analytics.dashboards.figures.control import control
from analytics.dashboards.figures.funnel import Curves, Dot, funnel, small_funnel
from analytics.dashboards.figures.scale import Scale, occasions, scale_of
from analytics.dashboards.figures.style import Json
from analytics.dashboards.limits import Year, ratio
from analytics.dashboards.sources import Floats, Source
from analytics.dashboards.words import NO_OTHERS, funnel_footer, funnel_says, outside_of
from analytics.measures import Measure, catalogue
from analytics.statistics.charts.attributes import laney_p_chart, p_chart
from analytics.statistics.charts.chart import Chart
from analytics.statistics.charts.individuals import individuals_charts
from analytics.statistics.proportions import wilson_interval

CONTROL_MONTHS: Final = 36
# From here on months differ clearly by more than chance, and Laney's limits are drawn (common
# practice, no source for the number).
LANEY_FROM: Final = 1.2
_NORMAL_95: Final = 1.959963984540054
_GRID: Final = 60

# With the number of the clinic each belongs to.
Dots = list[tuple[int, Dot]]


def measure_for_lead(source: Source, name: str, dots: Dots) -> Json:
    """Funnel of all testers and the network's control chart."""
    year = source.testers.years[name]
    return {
        "figures": {
            "funnel": _funnel(source, year, name, dots, own=None),
            "control": network_control(source, name),
        },
        "facts": _facts(year) | {"testers": len(dots)},
    }


def measure_for_site(source: Source, name: str, every: Dots, clinic_id: int) -> Json:
    """The own testers as dots; the others only as limits, if enough other clinics have data."""
    year = source.testers.years[name]
    if not may_compare(year.clinics, own=clinic_id):
        return {
            "figures": {},
            "facts": {"measure": name, "title": year.measure.title, "says": NO_OTHERS},
        }
    dots = [one for one in every if one[0] == clinic_id]
    return {
        "figures": {"funnel": _funnel(source, year, name, dots, own=clinic_id)},
        "facts": _facts(year) | {"testers": len(dots)},
    }


def small(source: Source, name: str) -> Json:
    """The funnel for a page of many."""
    year = source.testers.years[name]
    shown, outside = year.shown, np.array(outside_of(year), dtype=np.int64)
    scale = _scale(year)
    return small_funnel(
        year.value[shown],
        year.n[shown],
        outside[shown],
        curves(year, year.n[shown]),
        scale,
        title=year.measure.title,
        says=funnel_says(year, scale, outside[shown].tolist()),
        footer=funnel_footer(year, given=source.build is not None),
        occasions=occasions(year.measure),
    )


def network_control(source: Source, name: str) -> Json:
    """The whole network's value by month."""
    year = source.testers.years[name]
    at = source.testers.tallies.measures.index(name)
    part = np.s_[at, :, -CONTROL_MONTHS:]
    n, s = (getattr(source.testers.tallies, one)[part].sum(axis=0) for one in ("n", "s"))
    visits = source.testers.visits[:, -CONTROL_MONTHS:].sum(axis=0)
    n = np.where((n >= SMALLEST_CELL) & (visits >= SMALLEST_CELL), n, 0.0)
    scale = _scale(year)
    return control(
        control_chart(year.measure, s, n),
        source.testers.tallies.months[-CONTROL_MONTHS:],
        n,
        scale,
        title=f"{year.measure.title}: the network by month",
        subject="The network",
        occasions=occasions(year.measure),
    )


def control_chart(measure: Measure, s: Floats, n: Floats) -> Chart:
    """p or Laney's p' for shares, single values for means; limits from all months shown."""
    known = n > 0
    if measure.kind == "mean":
        return individuals_charts(ratio(s, n)).values
    events = np.clip(np.where(known, s, 0.0), 0.0, n)
    laney = laney_p_chart(events, n)
    if laney.reason is None and laney.estimates["sigma_z"] >= LANEY_FROM:
        return laney
    return p_chart(events, n)


def curves(year: Year, sizes: Floats) -> Curves:
    """The limits over the sizes of the dots shown, so that no other tester's size is told."""
    grid = (
        np.unique(np.rint(np.geomspace(sizes.min(), sizes.max(), _GRID))) if len(sizes) else sizes
    )
    inner, outer = year.at(grid, 0.95), year.at(grid, 0.998)
    return Curves(grid, inner.lower, inner.upper, outer.lower, outer.upper, year.centre)


def _funnel(source: Source, year: Year, name: str, dots: Dots, *, own: int | None) -> Json:
    scale = _scale(year)
    says = funnel_says(year, scale, outside_of_dots(dots))
    if own is not None:
        says = _site_says(year, scale, dots)
    return funnel(
        [one for _, one in dots],
        curves(year, np.array([one.n for _, one in dots], dtype=np.float64)),
        scale,
        title=year.measure.title,
        says=says,
        footer=funnel_footer(year, given=source.build is not None),
        occasions=occasions(year.measure),
    )


def outside_of_dots(dots: Dots) -> list[int]:
    return [one.outside for _, one in dots]


def _site_says(year: Year, scale: Scale, dots: Dots) -> str:
    if not dots:
        return "No tester of this clinic has enough visits yet for this measure."
    outside = outside_of_dots(dots)
    return (
        f"Of {len(dots)} testers of this clinic, {sum(one > 0 for one in outside)} lie outside the"
        f" 95 % lines and {sum(one > 1 for one in outside)} outside the 99.8 % lines of the"
        f" network ({int(year.shown.sum())} testers)."
    )


def dots_of(source: Source, name: str) -> Dots:
    """Testers with enough visits, by clinic and code; never by value."""
    year = source.testers.years[name]
    outside = outside_of(year)
    found = []
    for at in np.flatnonzero(year.shown).tolist():
        subject: Any = year.subjects[at]
        clinic_id = int(year.subject_clinics[at])
        low, high = _interval(year, at)
        compared = source.compared("tester", subject).get(name) or {}
        found.append(
            (
                clinic_id,
                Dot(
                    clinic=source.clinics[clinic_id].code,
                    tester=source.tester_codes.get(subject, "?"),
                    n=float(year.n[at]),
                    value=float(year.value[at]),
                    low=low,
                    high=high,
                    shrunken=compared.get("shrunken"),
                    outside=outside[at],
                ),
            )
        )
    return sorted(found, key=lambda one: (one[1].clinic, one[1].tester))


def _interval(year: Year, at: int) -> tuple[float | None, float | None]:
    n, value = float(year.n[at]), float(year.value[at])
    if year.measure.kind == "share":
        found = wilson_interval(round(min(max(value, 0.0), 1.0) * n), round(n))
        return found.low, found.high
    reach = _NORMAL_95 * float(year.se[at])
    return value - reach, value + reach


def _scale(year: Year) -> Scale:
    return scale_of(year.measure, reference=year.centre, against="the network's centre")


def _facts(year: Year) -> Json:
    measure = catalogue()[year.measure.id]
    return {
        "measure": measure.id,
        "title": measure.title,
        "about": measure.about,
        "source": measure.source,
        "too_few": year.too_few,
        "chance_outside_95": round(year.funnel.chance_inner, 2),
        "chance_outside_998": round(year.funnel.chance_outer, 2),
        "adjustment": year.funnel.adjustment.value,
    }
