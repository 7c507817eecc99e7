"""How figures look: two inks, black and grey, told apart by shape and word as well.

No pair of colours that reads as warm and cool or right and left, and none that reads as a verdict.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

Json = dict[str, Any]

VIOLET: Final = "#5B3A8C"
BROWN: Final = "#8A5A00"
BLACK: Final = "#000000"
GREY: Final = "#595959"
LIGHT_VIOLET: Final = "#C9BDDD"
LIGHT_BROWN: Final = "#DCCDB0"
LIGHT_GREY: Final = "#D0D0D0"
GRID: Final = "#E8E8E8"
INKS: Final = (VIOLET, BROWN, BLACK, GREY, LIGHT_VIOLET, LIGHT_BROWN, LIGHT_GREY, GRID)

# Limits of chance, limits of tolerance and centres never share a style.
CENTRE: Final[Json] = {"color": BLACK, "width": 1.5}
INNER: Final[Json] = {"color": GREY, "width": 1, "dash": "dot"}
OUTER: Final[Json] = {"color": GREY, "width": 1.5, "dash": "dash"}
TOLERANCE: Final[Json] = {"color": BROWN, "width": 2, "dash": "longdashdot"}


def layout(x: str, y: str, *, dates: bool = False, **more: Any) -> Json:
    """A plain layout with both axes titled; ``dates``: months or days along x."""
    along: Json = {"title": {"text": x}, "gridcolor": GRID, "zeroline": False, "automargin": True}
    if dates:
        along |= {"type": "date", "tickformat": "%b %Y"}
    up = {"title": {"text": y}, "gridcolor": GRID, "zeroline": False, "automargin": True}
    return {
        "font": {"color": BLACK, "size": 13},
        "paper_bgcolor": "#FFFFFF",
        "plot_bgcolor": "#FFFFFF",
        "margin": {"l": 60, "r": 20, "t": 20, "b": 60},
        "legend": {"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0},
        "hovermode": "closest",
        "xaxis": along,
        "yaxis": up,
    } | more


def line(x: Sequence[Any], y: Sequence[Any], name: str, style: Json, **more: Any) -> Json:
    """A line without marks; what is null interrupts it."""
    return {
        "type": "scatter",
        "mode": "lines",
        "x": list(x),
        "y": list(y),
        "name": name,
        "line": style,
        "hoverinfo": "skip",
    } | more


def dots(x: Sequence[Any], y: Sequence[Any], name: str, marker: Json, **more: Any) -> Json:
    """Marks without a line."""
    return {
        "type": "scatter",
        "mode": "markers",
        "x": list(x),
        "y": list(y),
        "name": name,
        "marker": marker,
    } | more
