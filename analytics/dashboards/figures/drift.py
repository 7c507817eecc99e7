"""An irrigator's readings over time: is it stable, and does it keep to its tolerance?

Two questions with two answers: the moving average against its own mean, and the readings against
the tolerance, never in one style.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any, Final

from analytics.dashboards.figures.parts import bundle, many, rows_of, said
from analytics.dashboards.figures.style import (
    BLACK,
    CENTRE,
    GREY,
    OUTER,
    TOLERANCE,
    VIOLET,
    Json,
    dots,
    layout,
    line,
)

# As many readings as a chart and its table can hold; a reading each working day for a year and
# a half.
MOST_READINGS: Final = 400
FOOTER: Final = (
    "Deviation: reading less set temperature. Moving average and its limits against the own mean"
    " since the last adjustment (limits by simulation); brown lines: the clinic's tolerance."
)


def drift(
    found: dict[str, Any], events: Sequence[tuple[date, str]], *, footer: str = FOOTER
) -> Json:
    """One stimulus of one irrigator, from its summary's ``drift`` entry and equipment events."""
    course = {name: list(column)[-MOST_READINGS:] for name, column in found["course"].items()}
    on, deviation = course["on"], course["deviation_c"]
    lower, upper = _limits(course["usual_c"], course["limit_c"])
    beyond = [at for at, one in enumerate(course["beyond"]) if one]
    tolerance = found["tolerance_c"]
    data = [
        dots(
            on,
            deviation,
            "reading",
            {"color": GREY, "size": 5, "symbol": "circle-open"},
            hovertemplate="%{x|%d %B %Y}: %{y} Cel<extra></extra>",
        ),
        line(on, course["usual_c"], "own mean", CENTRE),
        line(on, course["average_c"], "moving average", {"color": VIOLET, "width": 2.5}),
        line(on, lower, "limits of the moving average", OUTER, legendgroup="limits"),
        line(on, upper, "upper limit", OUTER, legendgroup="limits", showlegend=False),
        dots(
            [on[at] for at in beyond],
            [course["average_c"][at] for at in beyond],
            "beyond its limits",
            {"symbol": "square-open", "size": 11, "color": BLACK, "line": {"width": 2}},
            hoverinfo="skip",
        ),
    ]
    if on and tolerance is not None:
        ends = [on[0], on[-1]]
        data += [
            line(ends, [tolerance] * 2, "tolerance", TOLERANCE, legendgroup="tolerance"),
            line(
                ends,
                [-tolerance] * 2,
                "tolerance",
                TOLERANCE,
                legendgroup="tolerance",
                showlegend=False,
            ),
        ]
    shown = [(day, kind) for day, kind in events if on and on[0] <= day.isoformat() <= on[-1]]
    return bundle(
        data,
        layout("", "Cel", dates=True) | _marked(shown),
        columns=[
            ("on", "Day", ""),
            ("deviation", "Deviation", "Cel"),
            ("average", "Moving average", "Cel"),
            ("usual", "Own mean", "Cel"),
            ("lower", "Lower limit", "Cel"),
            ("upper", "Upper limit", "Cel"),
        ],
        rows=rows_of(
            on=on,
            deviation=deviation,
            average=course["average_c"],
            usual=course["usual_c"],
            lower=lower,
            upper=upper,
        ),
        title=f"Delivered temperature, {found['stimulus']}",
        says=says(found),
        footer=footer + _events(shown),
    )


def says(found: dict[str, Any]) -> str:
    """What is seen, on how many readings, against what."""
    n = found["readings"]
    mean, tolerance = said(found["mean_c"], 2, "Cel"), said(found["tolerance_c"], 1, "Cel")
    seen = f"{many(n, 'reading')} since {found['since'] or 'the beginning'}, mean deviation {mean}"
    if found["reason"]:
        return f"{seen}; too few to tell whether it has changed. Tolerance {tolerance}."
    changed = (
        "the moving average has changed against the own mean"
        if found["changed"]
        else "the moving average has not changed by more than chance gives"
    )
    coarse = (
        " The readings are coarse, which hides small changes." if found["read_coarsely"] else ""
    )
    return f"{seen}; {changed}. Tolerance {tolerance}.{coarse}"


def _limits(
    usual: Sequence[float | None], limit: Sequence[float | None]
) -> tuple[list[float | None], list[float | None]]:
    pairs = list(zip(usual, limit, strict=True))
    lower = [None if u is None or d is None else round(u - d, 4) for u, d in pairs]
    upper = [None if u is None or d is None else round(u + d, 4) for u, d in pairs]
    return lower, upper


def _marked(events: Sequence[tuple[date, str]]) -> Json:
    """Events as thin upright lines with their words."""
    return {
        "shapes": [
            {
                "type": "line",
                "x0": day.isoformat(),
                "x1": day.isoformat(),
                "yref": "paper",
                "y0": 0,
                "y1": 1,
                "line": {"color": BLACK, "width": 1, "dash": "dot"},
            }
            for day, _ in events
        ],
        "annotations": [
            {
                "x": day.isoformat(),
                "y": 1,
                "yref": "paper",
                "yanchor": "top",
                "xanchor": "left",
                "textangle": 90,
                "showarrow": False,
                "text": kind.replace("_", " "),
                "font": {"size": 11},
            }
            for day, kind in events
        ],
    }


def _events(events: Sequence[tuple[date, str]]) -> str:
    words = ", ".join(f"{day.isoformat()} {kind.replace('_', ' ')}" for day, kind in events)
    return f" Events: {words}." if words else ""
