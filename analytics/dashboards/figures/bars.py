"""Bars of counts, with what chance gives as a line where there is such a thing."""

from __future__ import annotations

from collections.abc import Sequence

from analytics.dashboards.figures.parts import bundle, one_plain
from analytics.dashboards.figures.style import BLACK, VIOLET, Json, layout


def bars(
    names: Sequence[str],
    values: Sequence[float],
    *,
    title: str,
    says: str,
    footer: str,
    unit: str,
    along: str,
    by_chance: Sequence[float] | None = None,
    lying: bool = False,
) -> Json:
    """Bars of one ink; ``lying`` for long names. ``by_chance`` is marked by short black strokes."""
    table: list[Json] = [
        {"name": name, "value": value} for name, value in zip(names, values, strict=True)
    ]
    columns = [("name", along, ""), ("value", "Number", unit)]
    data = [_bar(names, values, lying)]
    if by_chance is not None:
        for row, chance in zip(table, by_chance, strict=True):
            row["by_chance"] = one_plain(chance, 1)
        columns.append(("by_chance", "By chance", unit))
        data.append(_strokes(names, [one_plain(one, 1) for one in by_chance], lying))
    shape = layout(unit, "") if lying else layout(along, unit)
    # Else a digit would be read as a number, and a name as a date.
    shape["yaxis" if lying else "xaxis"] |= (
        {"type": "category", "autorange": "reversed"} if lying else {"type": "category"}
    )
    return bundle(data, shape, columns=columns, rows=table, title=title, says=says, footer=footer)


def _bar(names: Sequence[str], values: Sequence[float], lying: bool) -> Json:
    x, y = (list(values), list(names)) if lying else (list(names), list(values))
    return {
        "type": "bar",
        "orientation": "h" if lying else "v",
        "x": x,
        "y": y,
        "name": "found",
        "marker": {"color": VIOLET},
    }


def _strokes(names: Sequence[str], values: Sequence[float | None], lying: bool) -> Json:
    x, y = (list(values), list(names)) if lying else (list(names), list(values))
    symbol = "line-ns-open" if lying else "line-ew-open"
    return {
        "type": "scatter",
        "mode": "markers",
        "x": x,
        "y": y,
        "name": "by chance",
        "marker": {"symbol": symbol, "size": 22, "color": BLACK, "line": {"width": 3}},
    }
