"""One subject's value month by month, with the network's centre and limits of chance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from analytics.dashboards.figures.parts import bundle, counts, months_iso, plain, rows_of
from analytics.dashboards.figures.scale import Scale
from analytics.dashboards.figures.style import CENTRE, OUTER, VIOLET, Json, layout, line

Floats = NDArray[np.float64]

FOOTER: Final = (
    "Each dot is one month. The limits hold 99.8 % of months of that many {occasions}, if this"
    " {kind} differs from the network no more than others do."
)


@dataclass(frozen=True, slots=True, eq=False)
class Months:
    """A subject's months; values and limits on the stored scale, NaN where not shown.

    ``centre`` and the limits are None where no comparison may be shown.
    """

    months: Sequence[date]
    n: Floats
    value: Floats
    centre: float | None
    lower: Floats | None
    upper: Floats | None


def over_months(
    found: Months, scale: Scale, *, title: str, says: str, footer: str, occasions: str
) -> Json:
    """Dots joined by a thin line, centre and limits; the limits move with each month's n."""
    x, places = months_iso(found.months), scale.decimals
    value = plain(scale.to(found.value), places)
    data = []
    columns = [("month", "Month", ""), ("n", "Number", occasions), ("value", title, scale.unit)]
    n = counts(found.n)
    table: dict[str, list[Any]] = {"month": x, "n": n, "value": value}
    if found.centre is not None and found.lower is not None and found.upper is not None:
        centre = plain([scale.one(found.centre) or 0.0], places)[0]
        lower, upper = (plain(scale.to(one), places) for one in (found.lower, found.upper))
        data += [
            line(x, lower, "limits of chance (99.8 %)", OUTER, legendgroup="limits"),
            line(x, upper, "upper limit", OUTER, legendgroup="limits", showlegend=False),
            line([x[0], x[-1]], [centre, centre], "network's centre", CENTRE),
        ]
        table |= {"lower": lower, "upper": upper}
        columns += [
            ("lower", "Lower limit", scale.unit),
            ("upper", "Upper limit", scale.unit),
        ]
    data.append(_own(x, value, n, occasions))
    return bundle(
        data,
        layout("", scale.unit, dates=True),
        columns=columns,
        rows=rows_of(**table),
        title=title,
        says=says,
        footer=footer,
    )


def _own(x: list[str], value: list[float | None], n: list[int], occasions: str) -> Json:
    return {
        "type": "scatter",
        "mode": "lines+markers",
        "x": x,
        "y": value,
        "name": "own value",
        "line": {"color": VIOLET, "width": 1},
        "marker": {"color": VIOLET, "size": 7, "symbol": "circle"},
        "customdata": n,
        "hovertemplate": "%{x|%B %Y}: %{y}<br>%{customdata} " + occasions + "<extra></extra>",
    }
