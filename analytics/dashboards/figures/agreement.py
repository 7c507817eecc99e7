"""Two tests of one person: how far they differ, by the same tester and by another."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.dashboards.figures.parts import bundle, many, one_plain, plain, rows_of, said
from analytics.dashboards.figures.style import CENTRE, OUTER, VIOLET, Json, dots, layout, line
from analytics.statistics.agreement import Interval, LimitsOfAgreement
from analytics.statistics.repeatability import MeasurementError

Floats = NDArray[np.float64]

UNIT: Final = "points"
# More dots than this cannot be told apart and make a page slow; the limits are of all pairs.
MOST_DOTS: Final = 800
FOOTER: Final = (
    "Later less earlier result, pairs at most 90 days apart with the same medium and way of"
    " reading. Limits: mean and 1.96 SD, 95 % intervals by the noncentral t (Bland & Altman,"
    " Lancet 1986;i:307-310)."
)


def differences(
    earlier: Floats, later: Floats, found: LimitsOfAgreement, *, title: str, who: str
) -> Json:
    """Difference against mean of each pair, with bias and limits of agreement."""
    x, y = ((earlier + later) / 2)[-MOST_DOTS:], (later - earlier)[-MOST_DOTS:]
    mean, apart = plain(x, 0), plain(y, 0)
    return bundle(
        [
            dots(
                mean,
                apart,
                "pair",
                {"color": VIOLET, "size": 6, "symbol": "circle-open"},
                hoverinfo="x+y",
            ),
            *_lines(found, x),
        ],
        layout(f"mean of both, {UNIT}", f"later less earlier, {UNIT}"),
        columns=[("mean", "Mean of both", UNIT), ("difference", "Later less earlier", UNIT)],
        rows=rows_of(mean=mean, difference=apart),
        title=title,
        says=_says(found, who),
        footer=FOOTER
        + (f" The newest {MOST_DOTS} pairs are drawn." if len(later) > MOST_DOTS else ""),
    )


def _lines(found: LimitsOfAgreement, x: Floats) -> list[Json]:
    if found.bias is None or found.lower is None or found.upper is None or not len(x):
        return []
    ends = plain([x.min(), x.max()], 0)
    data = [line(ends, [one_plain(found.bias.value, 1)] * 2, "mean difference", CENTRE)]
    for name, one in (
        ("lower limit of agreement", found.lower),
        ("upper limit of agreement", found.upper),
    ):
        data.append(line(ends, [one_plain(one.value, 1)] * 2, name, OUTER, legendgroup="limits"))
    return data


def _says(found: LimitsOfAgreement, who: str) -> str:
    if found.bias is None or found.lower is None or found.upper is None:
        return f"{many(found.pairs, 'pair')} {who}: too few for limits of agreement."
    return (
        f"{many(found.pairs, 'pair')} {who}: the mean difference is {_interval(found.bias)};"
        f" 95 of 100 differences lie between {_interval(found.lower)} and {_interval(found.upper)}."
    )


def _interval(one: Interval) -> str:
    return f"{said(one.value, 1, UNIT)} ({said(one.low, 1, '')} to {said(one.high, 1, '')})"


def errors(found: Sequence[tuple[str, MeasurementError]]) -> Json:
    """Within-subject SD with its interval, and what two results must differ by."""
    names = [name for name, _ in found]
    sd, low, high, change = (
        [one_plain(getattr(one, field), 2) for _, one in found]
        for field in ("sd", "sd_low", "sd_high", "smallest_change")
    )
    data = [
        dots(
            names,
            sd,
            "within-subject SD, 95 % interval",
            {"color": VIOLET, "size": 10, "symbol": "circle"},
            error_y={
                "type": "data",
                "symmetric": False,
                "array": _apart(high, sd),
                "arrayminus": _apart(sd, low),
                "color": VIOLET,
                "thickness": 2,
            },
            hoverinfo="y",
        ),
        dots(
            names,
            change,
            "smallest change that can be told",
            {"color": VIOLET, "size": 12, "symbol": "diamond-open", "line": {"width": 2}},
            hoverinfo="y",
        ),
    ]
    shape = layout("", UNIT)
    shape["xaxis"] |= {"type": "category", "range": [-0.5, len(names) - 0.5]}
    shape["yaxis"]["rangemode"] = "tozero"
    return bundle(
        data,
        shape,
        columns=[
            ("who", "Tests by", ""),
            ("subjects", "Persons", ""),
            ("values", "Results", ""),
            ("sd", "Within-subject SD", UNIT),
            ("low", "95 % from", UNIT),
            ("high", "95 % to", UNIT),
            ("change", "Smallest change that can be told", UNIT),
        ],
        rows=rows_of(
            who=names,
            subjects=[one.subjects for _, one in found],
            values=[one.values for _, one in found],
            sd=sd,
            low=low,
            high=high,
            change=change,
        ),
        title="Error of measurement of the weakness",
        says=" ".join(_error_says(name, one) for name, one in found),
        footer=(
            "One-way and nested analysis of variance of repeats; the smallest change is 1.96 times"
            " the root of 2 times the SD (Bland & Altman, BMJ 1996;313:744)."
        ),
    )


def _error_says(name: str, one: MeasurementError) -> str:
    if one.sd is None:
        return f"{name}: too few repeats."
    return (
        f"{name}: within-subject SD {said(one.sd, 1, UNIT)}, so two results of one person must"
        f" differ by {said(one.smallest_change, 0, UNIT)} to tell a change"
        f" ({many(one.values, 'result')} of {many(one.subjects, 'person', 'persons')})."
    )


def _apart(upper: Sequence[float | None], lower: Sequence[float | None]) -> list[float | None]:
    return [
        None if a is None or b is None else one_plain(a - b, 2)
        for a, b in zip(upper, lower, strict=True)
    ]
