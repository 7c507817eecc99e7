"""How much a network holds: visits, testers and clinics by month."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from analytics.dashboards.figures.parts import bundle, many, months_iso, rows_of
from analytics.dashboards.figures.style import BLACK, BROWN, VIOLET, Json, layout


def coverage(
    months: Sequence[date], visits: Sequence[int], testers: Sequence[int], clinics: Sequence[int]
) -> Json:
    """Visits as bars; testers (circles) and clinics (squares) on an axis of their own."""
    x = months_iso(months)
    data = [
        {"type": "bar", "x": x, "y": list(visits), "name": "visits", "marker": {"color": VIOLET}},
        _marks(x, testers, "testers", "circle", BLACK),
        _marks(x, clinics, "clinics", "square-open", BROWN),
    ]
    shape = layout("", "visits", dates=True)
    shape["yaxis"]["rangemode"] = "tozero"
    shape["yaxis2"] = {
        "title": {"text": "testers, clinics"},
        "overlaying": "y",
        "side": "right",
        "tickmode": "auto",
        "rangemode": "tozero",
        "showgrid": False,
    }
    shape["margin"] = {"l": 60, "r": 60, "t": 20, "b": 60}
    return bundle(
        data,
        shape,
        columns=[
            ("month", "Month", ""),
            ("visits", "Visits", ""),
            ("testers", "Testers with visits", ""),
            ("clinics", "Clinics with visits", ""),
        ],
        rows=rows_of(month=x, visits=visits, testers=testers, clinics=clinics),
        title="What the figures rest on",
        says=_says(x, visits, testers, clinics),
        footer="Visits of complete months that take part in statistics, by month of the visit.",
    )


def _says(
    x: Sequence[str], visits: Sequence[int], testers: Sequence[int], clinics: Sequence[int]
) -> str:
    if not sum(visits):
        return "There are no visits yet."
    return (
        f"{many(sum(visits), 'visit')} in {many(len(x), 'month')}; in the last,"
        f" {many(visits[-1], 'visit')} by {many(testers[-1], 'tester')} at"
        f" {many(clinics[-1], 'clinic')}."
    )


def _marks(x: list[str], y: Sequence[int], name: str, symbol: str, colour: str) -> Json:
    return {
        "type": "scatter",
        "mode": "lines+markers",
        "x": x,
        "y": list(y),
        "name": name,
        "yaxis": "y2",
        "line": {"color": colour, "width": 1},
        "marker": {"symbol": symbol, "size": 8, "color": colour},
    }
