"""A control chart by month, from a chart of the statistics room."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
from numpy.typing import NDArray

from analytics.dashboards.figures.parts import bundle, counts, months_iso, plain, rows_of
from analytics.dashboards.figures.scale import Scale
from analytics.dashboards.figures.style import BLACK, CENTRE, OUTER, VIOLET, Json, layout, line
from analytics.statistics.charts.chart import Chart

Floats = NDArray[np.float64]


def control(
    chart: Chart,
    months: Sequence[date],
    n: Floats,
    scale: Scale,
    *,
    title: str,
    subject: str,
    occasions: str,
) -> Json:
    """Points with centre and limits, the points that complete a run rule as open squares."""
    x, places = months_iso(months), scale.decimals + 1
    points, centre, lower, upper = (
        plain(scale.to(one), places)
        for one in (chart.points, chart.centre, chart.lower, chart.upper)
    )
    told = completed(chart)
    data = [
        line(x, lower, f"{chart.standing} limits", OUTER, legendgroup="limits"),
        line(x, upper, "upper limit", OUTER, legendgroup="limits", showlegend=False),
        line(x, centre, "mean", CENTRE),
        _points(x, points, counts(n), occasions),
        _told([x[at] for at in told], [points[at] for at in told]),
    ]
    return bundle(
        data,
        layout("", scale.unit, dates=True),
        columns=[
            ("month", "Month", ""),
            ("n", "Number", occasions),
            ("value", "Value", scale.unit),
            ("centre", "Mean", scale.unit),
            ("lower", "Lower limit", scale.unit),
            ("upper", "Upper limit", scale.unit),
            ("rule", "Run rule completed", ""),
        ],
        rows=rows_of(
            month=x,
            n=counts(n),
            value=points,
            centre=centre,
            lower=lower,
            upper=upper,
            rule=_rules(chart),
        ),
        title=title,
        says=_says(chart, [x[at] for at in told], counts(n), subject, occasions),
        footer=footer(chart),
    )


def completed(chart: Chart) -> list[int]:
    """The places of the points that complete any rule of the set."""
    if chart.reason is not None:
        return []
    return sorted({int(at) for places in chart.signals.values() for at in places})


def footer(chart: Chart) -> str:
    """How the limits were made: chart, points, constants, rule set."""
    if chart.reason is not None:
        return f"No limits: {chart.reason.replace('_', ' ')}."
    numbers = ", ".join(
        f"{name.replace('_', ' ')} {value:.4g}"
        for name, value in {**chart.constants, **chart.estimates}.items()
    )
    words = "; ".join(rule.words for rule in chart.rule_set.rules)
    return (
        f"Chart of kind {chart.kind}; {chart.standing} limits from {chart.baseline_points} months"
        f" ({numbers}). Run rules: {chart.rule_set.name} ({words}); {chart.rule_set.source}."
    )


def _says(chart: Chart, told: Sequence[str], n: Sequence[int], subject: str, occasions: str) -> str:
    seen = f"{int(np.isfinite(chart.points).sum())} months, {sum(n):,} {occasions}"
    if chart.reason is not None:
        return f"{subject}: {seen}; too few or too even for limits."
    against = f"against {chart.standing} limits from {chart.baseline_points} months"
    if not told:
        return f"{subject} has not changed by more than chance gives: {seen}, {against}."
    careful = "" if chart.may_alert else " Limits from so few months give false signals often."
    return (
        f"{subject} has changed: a run rule was met in {', '.join(told)} ({seen},"
        f" {against}).{careful}"
    )


def _rules(chart: Chart) -> list[str]:
    rules: list[list[str]] = [[] for _ in chart.points]
    if chart.reason is None:
        for code, places in chart.signals.items():
            for at in places:
                rules[int(at)].append(code)
    return [", ".join(one) for one in rules]


def _points(x: list[str], y: list[float | None], n: list[int], occasions: str) -> Json:
    return {
        "type": "scatter",
        "mode": "lines+markers",
        "x": x,
        "y": y,
        "name": "month",
        "line": {"color": VIOLET, "width": 1},
        "marker": {"color": VIOLET, "size": 7},
        "customdata": n,
        "hovertemplate": "%{x|%B %Y}: %{y}<br>%{customdata} " + occasions + "<extra></extra>",
    }


def _told(x: list[str], y: list[float | None]) -> Json:
    return {
        "type": "scatter",
        "mode": "markers",
        "x": x,
        "y": y,
        "name": "a run rule met",
        "marker": {"symbol": "square-open", "size": 14, "color": BLACK, "line": {"width": 2}},
        "hoverinfo": "skip",
    }
