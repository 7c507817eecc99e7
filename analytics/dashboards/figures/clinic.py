"""A clinic over time with its testers, and who worked with what: do all of them move together?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from html import escape
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.dashboards.figures.parts import bundle, counts, months_iso, one_plain, plain
from analytics.dashboards.figures.scale import Scale
from analytics.dashboards.figures.style import (
    CENTRE,
    LIGHT_VIOLET,
    VIOLET,
    Json,
    dots,
    layout,
    line,
)

Floats = NDArray[np.float64]

# Testers share one faint ink; the dashes and the name at the line's end tell them apart.
_DASHES: Final = ("solid", "dot", "dash", "longdash", "dashdot", "longdashdot")


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """Months of one tester or of the clinic; NaN where not shown."""

    name: str
    n: Floats
    value: Floats


def together(
    months: Sequence[date],
    clinic: Line,
    testers: Sequence[Line],
    centre: float | None,
    scale: Scale,
    *,
    title: str,
    says: str,
    footer: str,
    occasions: str,
) -> Json:
    """The clinic as one strong line, its testers faint and named by code."""
    x, places = months_iso(months), scale.decimals
    own = plain(scale.to(clinic.value), places)
    data = [_faint(x, one, at, scale) for at, one in enumerate(testers)]
    if centre is not None and x:
        level = one_plain(scale.one(centre), places)
        data.append(line([x[0], x[-1]], [level, level], "network's centre", CENTRE))
    data.append(
        line(
            x,
            own,
            clinic.name,
            {"color": VIOLET, "width": 3},
            mode="lines+markers",
            hoverinfo="x+y",
        )
    )
    columns = [("month", "Month", ""), ("n", "Number", occasions), ("value", "Clinic", scale.unit)]
    columns += [(f"t{at}", one.name, scale.unit) for at, one in enumerate(testers)]
    every = [plain(scale.to(one.value), places) for one in testers]
    rows = [
        {
            "month": month,
            "n": n,
            "value": value,
            **{f"t{at}": one[row] for at, one in enumerate(every)},
        }
        for row, (month, n, value) in enumerate(zip(x, counts(clinic.n), own, strict=True))
    ]
    return bundle(
        data,
        layout("", scale.unit, dates=True),
        columns=columns,
        rows=rows,
        title=title,
        says=says,
        footer=footer,
    )


def _faint(x: list[str], one: Line, at: int, scale: Scale) -> Json:
    style = {"color": LIGHT_VIOLET, "width": 1.5, "dash": _DASHES[at % len(_DASHES)]}
    name = escape(one.name)
    return line(x, plain(scale.to(one.value), scale.decimals), name, style, hoverinfo="name+x+y")


@dataclass(frozen=True, slots=True)
class Deviation:
    """Value less the network's centre of one tester, irrigator and recorder together.

    ``recent`` is of the last three months, ``year`` of twelve; None where too few visits.
    """

    tester: str
    irrigator: str
    recorder: str
    n_recent: float
    recent: float | None
    n_year: float
    year: float | None


def attribution(
    found: Sequence[Deviation], *, title: str, says: str, footer: str, unit: str, decimals: int
) -> Json:
    """A row a combination: where all dots of an irrigator lie to one side, it is not a tester."""
    names = [escape(f"{one.tester} · {one.irrigator} · {one.recorder}") for one in found]
    year = [one_plain(one.year, decimals) for one in found]
    recent = [one_plain(one.recent, decimals) for one in found]
    data = [
        dots(
            year,
            names,
            "twelve months",
            {"symbol": "circle", "size": 9, "color": VIOLET},
            hoverinfo="x+name",
        ),
        dots(
            recent,
            names,
            "last three months",
            {"symbol": "diamond-open", "size": 11, "color": VIOLET, "line": {"width": 2}},
            hoverinfo="x+name",
        ),
    ]
    shape = layout(f"{unit}, less the network's centre", "")
    shape["xaxis"] |= {"zeroline": True, "zerolinecolor": "#000000"}
    shape["yaxis"] |= {"type": "category", "autorange": "reversed"}
    shape["height"] = 120 + 26 * len(names)
    return bundle(
        data,
        shape,
        columns=[
            ("tester", "Tester", ""),
            ("irrigator", "Irrigator", ""),
            ("recorder", "Recorder", ""),
            ("n_year", "Visits in twelve months", "visits"),
            ("year", "Twelve months", unit),
            ("n_recent", "Visits in three months", "visits"),
            ("recent", "Last three months", unit),
        ],
        rows=[
            {
                "tester": one.tester,
                "irrigator": one.irrigator,
                "recorder": one.recorder,
                "n_year": round(one.n_year),
                "year": y,
                "n_recent": round(one.n_recent),
                "recent": r,
            }
            for one, y, r in zip(found, year, recent, strict=True)
        ],
        title=title,
        says=says,
        footer=footer,
    )
