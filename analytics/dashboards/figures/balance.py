"""How one tester's right-left balance lies among the network's: own interval over its middle."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analytics.dashboards.figures.parts import bundle, one_plain
from analytics.dashboards.figures.style import (
    BLACK,
    LIGHT_GREY,
    VIOLET,
    Json,
    layout,
)


@dataclass(frozen=True, slots=True)
class Window:
    """Own value with its 95 % interval over some months, and quantiles of the network's testers.

    ``quantiles`` are at 10, 25, 50, 75 and 90 per cent; None where too few testers stand behind.
    """

    months: int
    n: float
    value: float | None
    low: float | None
    high: float | None
    testers: int
    quantiles: tuple[float | None, ...]


def balance(
    windows: Sequence[Window], *, title: str, says: str, footer: str, unit: str, decimals: int
) -> Json:
    """Thin bar: middle four fifths of testers; thick bar: middle half; stroke: median; dot: own."""
    names = [f"{one.months} months" for one in windows]
    quantiles = [[one_plain(q, decimals) for q in one.quantiles] for one in windows]
    data = [
        _span(names, quantiles, (0, 4), "middle four fifths of testers", 0.2),
        _span(names, quantiles, (1, 3), "middle half of testers", 0.45),
        _median(names, [one[2] for one in quantiles]),
        _own(names, windows, decimals),
    ]
    keys = ("q10", "q25", "q50", "q75", "q90")
    rows = [
        {
            "months": one.months,
            "n": round(one.n),
            **{k: one_plain(getattr(one, k), decimals) for k in ("value", "low", "high")},
            "testers": one.testers,
            **dict(zip(keys, found, strict=True)),
        }
        for one, found in zip(windows, quantiles, strict=True)
    ]
    shape = layout("last complete months", unit, barmode="overlay")
    shape["xaxis"]["type"] = "category"
    return bundle(
        data,
        shape,
        columns=_columns(unit),
        rows=rows,
        title=title,
        says=says,
        footer=footer,
    )


def _columns(unit: str) -> list[tuple[str, str, str]]:
    return [
        ("months", "Last months", ""),
        ("n", "Number", "visits"),
        ("value", "Own value", unit),
        ("low", "95 % from", unit),
        ("high", "95 % to", unit),
        ("testers", "Testers compared with", ""),
        ("q10", "10 % of testers below", unit),
        ("q25", "25 % below", unit),
        ("q50", "Half below", unit),
        ("q75", "75 % below", unit),
        ("q90", "90 % below", unit),
    ]


def _span(
    names: Sequence[str],
    quantiles: Sequence[Sequence[float | None]],
    ends: tuple[int, int],
    name: str,
    width: float,
) -> Json:
    base = [one[ends[0]] for one in quantiles]
    height = [
        None if (low := one[ends[0]]) is None or (high := one[ends[1]]) is None else high - low
        for one in quantiles
    ]
    return {
        "type": "bar",
        "x": list(names),
        "base": base,
        "y": [one_plain(one, 4) for one in height],
        "name": name,
        "width": width,
        "marker": {"color": LIGHT_GREY, "line": {"color": "#595959", "width": 1}},
        "hoverinfo": "skip",
    }


def _median(names: Sequence[str], values: Sequence[float | None]) -> Json:
    return {
        "type": "scatter",
        "mode": "markers",
        "x": list(names),
        "y": list(values),
        "name": "median of testers",
        "marker": {"symbol": "line-ew-open", "size": 30, "color": BLACK, "line": {"width": 2}},
        "hoverinfo": "skip",
    }


def _own(names: Sequence[str], windows: Sequence[Window], decimals: int) -> Json:
    value = [one_plain(one.value, decimals) for one in windows]
    up = [_apart(one.high, one.value, decimals) for one in windows]
    down = [_apart(one.value, one.low, decimals) for one in windows]
    return {
        "type": "scatter",
        "mode": "markers",
        "x": list(names),
        "y": value,
        "name": "own value, 95 % interval",
        "marker": {"symbol": "circle", "size": 10, "color": VIOLET},
        "error_y": {
            "type": "data",
            "symmetric": False,
            "array": up,
            "arrayminus": down,
            "color": VIOLET,
            "thickness": 2,
        },
        "customdata": [round(one.n) for one in windows],
        "hovertemplate": "%{y}<br>%{customdata} visits<extra></extra>",
    }


def _apart(upper: float | None, lower: float | None, decimals: int) -> float | None:
    return None if upper is None or lower is None else one_plain(upper - lower, decimals)
