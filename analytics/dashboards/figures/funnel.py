"""The funnel of a measure: every tester's value against the number behind it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.dashboards.figures.parts import bundle, counts, one_plain, plain
from analytics.dashboards.figures.scale import Scale
from analytics.dashboards.figures.style import (
    CENTRE,
    INNER,
    OUTER,
    VIOLET,
    Json,
    dots,
    layout,
    line,
)

Floats = NDArray[np.float64]

# Shape tells the tiers apart: one ink for all dots.
WITHIN, BEYOND_INNER, BEYOND_OUTER = (
    "between the lines",
    "outside the 95 % lines",
    "outside the 99.8 % lines",
)
_MARKERS: Final[dict[str, Json]] = {
    WITHIN: {"symbol": "circle", "size": 8},
    BEYOND_INNER: {"symbol": "circle-open", "size": 13, "line": {"width": 2.5}},
    BEYOND_OUTER: {"symbol": "diamond-open", "size": 14, "line": {"width": 2.5}},
}


@dataclass(frozen=True, slots=True)
class Dot:
    """One tester: codes, occasions, value with its interval (stored scale), which line it passes.

    ``shrunken`` is the value drawn towards the network's centre; ``outside`` 0, 1 or 2.
    """

    clinic: str
    tester: str
    n: float
    value: float
    low: float | None
    high: float | None
    shrunken: float | None
    outside: int


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """Limits over the range of sizes, on the stored scale."""

    sizes: Floats
    inner_lower: Floats
    inner_upper: Floats
    outer_lower: Floats
    outer_upper: Floats
    centre: float | None


def funnel(
    found: Sequence[Dot],
    curves: Curves,
    scale: Scale,
    *,
    title: str,
    says: str,
    footer: str,
    occasions: str,
) -> Json:
    """Dots of testers in the order given, and both pairs of limits."""
    data = [*_limits(curves, scale), *_dots(found, scale, occasions)]
    return bundle(
        data,
        layout(f"{occasions} in twelve months", scale.unit),
        columns=_columns(scale, occasions),
        rows=[_row(one, scale) for one in found],
        title=title,
        says=says,
        footer=footer,
    )


def small_funnel(
    values: Floats,
    sizes: Floats,
    outside: NDArray[np.int64],
    curves: Curves,
    scale: Scale,
    *,
    title: str,
    says: str,
    footer: str,
    occasions: str,
) -> Json:
    """The same without names, for a page of many; its table counts what lies where."""
    data = _limits(curves, scale)
    shown = scale.to(values)
    for at, (name, marker) in enumerate(_MARKERS.items()):
        here = outside == at
        data.append(
            dots(
                counts(sizes[here]),
                plain(shown[here], scale.decimals),
                name,
                marker | {"color": VIOLET, "size": marker["size"] - 2},
                hoverinfo="skip",
            )
        )
    rows = [
        {"where": name, "testers": int((outside == at).sum())} for at, name in enumerate(_MARKERS)
    ]
    more: Json = {
        "height": 260,
        "showlegend": False,
        "margin": {"l": 50, "r": 10, "t": 10, "b": 45},
    }
    return bundle(
        data,
        layout(occasions, scale.unit, **more),
        columns=[("where", "Where", ""), ("testers", "Testers", "")],
        rows=rows,
        title=title,
        says=says,
        footer=footer,
    )


def _limits(curves: Curves, scale: Scale) -> list[Json]:
    if curves.centre is None or not len(curves.sizes):
        return []
    x, places = counts(curves.sizes), scale.decimals + 1
    pairs = (
        ("95 % limits", INNER, curves.inner_lower, curves.inner_upper),
        ("99.8 % limits", OUTER, curves.outer_lower, curves.outer_upper),
    )
    data: list[Json] = []
    for name, style, lower, upper in pairs:
        data += [
            line(x, plain(scale.to(lower), places), name, style, legendgroup=name),
            line(
                x, plain(scale.to(upper), places), name, style, legendgroup=name, showlegend=False
            ),
        ]
    centre = one_plain(scale.one(curves.centre), places)
    return [*data, line([x[0], x[-1]], [centre, centre], "centre", CENTRE)]


def _dots(found: Sequence[Dot], scale: Scale, occasions: str) -> list[Json]:
    data = []
    for at, (name, marker) in enumerate(_MARKERS.items()):
        here = [one for one in found if one.outside == at]
        data.append(
            dots(
                counts([one.n for one in here]),
                plain(scale.to([one.value for one in here]), scale.decimals),
                name,
                marker | {"color": VIOLET},
                text=[_hover(one, scale, occasions) for one in here],
                hoverinfo="text",
            )
        )
    return data


def _hover(one: Dot, scale: Scale, occasions: str) -> str:
    value, low, high = (
        one_plain(scale.one(v), scale.decimals) for v in (one.value, one.low, one.high)
    )
    name = escape(f"{one.clinic} {one.tester}")
    interval = "" if low is None or high is None else f"<br>95 % interval {low} to {high}"
    return f"{name}<br>{round(one.n):,} {occasions}<br>{value} {scale.unit}{interval}"


def _columns(scale: Scale, occasions: str) -> list[tuple[str, str, str]]:
    return [
        ("clinic", "Clinic", ""),
        ("tester", "Tester", ""),
        ("n", "Number", occasions),
        ("value", "Value", scale.unit),
        ("low", "95 % from", scale.unit),
        ("high", "95 % to", scale.unit),
        ("shrunken", "Drawn to the centre", scale.unit),
        ("where", "Where", ""),
    ]


def _row(one: Dot, scale: Scale) -> Json:
    figures = {
        name: one_plain(scale.one(getattr(one, name)), scale.decimals)
        for name in ("value", "low", "high", "shrunken")
    }
    return {
        "clinic": one.clinic,
        "tester": one.tester,
        "n": round(one.n),
        **figures,
        "where": list(_MARKERS)[one.outside],
    }
