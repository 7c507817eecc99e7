"""The measures of a subject from its cells: twelve months together, and month by month."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from analytics.measures import Measure, catalogue
from analytics.rollups.merge import CellTable, month_back
from analytics.statistics.proportions import wilson_interval

Floats = NDArray[np.float64]
Rows = NDArray[np.int64]

# What a figure on a page is of: a year, so that it is neither last month's luck nor ancient.
FIGURE_MONTHS: Final = 12
SHOWN_MONTHS: Final = 24
_NORMAL_95: Final = 1.959963984540054


def shown_months(until: date) -> list[date]:
    """The months of a page's charts, the current one too, oldest first."""
    last = until.replace(day=1)
    return [month_back(last, steps) for steps in range(SHOWN_MONTHS - 1, -1, -1)]


def measure_figures(
    cells: CellTable, rows: Rows, measures: Sequence[Measure], *, until: date
) -> dict[str, Any]:
    """Figures by measure of the cells at ``rows``; a figure without visits is null, never 0.

    ``value`` and its 95 % interval are of the last twelve months, the current one included;
    ``like_for_like`` is the value less what the patients' mix adds.
    """
    months = shown_months(until)
    place = {month: at for at, month in enumerate(months)}
    column = np.array([place.get(cells.months[at], -1) for at in rows], dtype=np.int64)
    inside = column >= 0
    rows, column = rows[inside], column[inside]
    order = [measure.id for measure in catalogue().scored]
    sums = {
        name: _by_month(getattr(cells, name)[:, rows], column)
        for name in ("n", "s", "ss", "expected")
    }
    return {
        measure.id: _figures(measure, {k: v[order.index(measure.id)] for k, v in sums.items()})
        for measure in measures
    }


def visits_by_month(cells: CellTable, rows: Rows, *, until: date) -> list[int]:
    months = shown_months(until)
    counts = dict.fromkeys(months, 0)
    for at in rows.tolist():
        if cells.months[at] in counts:
            counts[cells.months[at]] += int(cells.visits[at])
    return [counts[month] for month in months]


def _by_month(values: Floats, column: Rows) -> Floats:
    out = np.zeros((values.shape[0], SHOWN_MONTHS))
    np.add.at(out.T, column, values.T)
    return out


def _figures(measure: Measure, sums: dict[str, Floats]) -> dict[str, Any]:
    n, s, ss, expected = (sums[name] for name in ("n", "s", "ss", "expected"))
    year = slice(-FIGURE_MONTHS, None)
    total, score = float(n[year].sum()), float(s[year].sum())
    low, high = _interval(measure, total, score, float(ss[year].sum()))
    return {
        "n": total,
        "value": score / total if total else None,
        "low": low,
        "high": high,
        "like_for_like": (score - float(expected[year].sum())) / total if total else None,
        "by_month": {
            "n": [float(one) for one in n],
            "value": [_ratio(a, b) for a, b in zip(s.tolist(), n.tolist(), strict=True)],
        },
    }


def _ratio(above: float, below: float) -> float | None:
    return above / below if below else None


def _interval(measure: Measure, n: float, s: float, ss: float) -> tuple[float | None, float | None]:
    if measure.kind == "share":
        found = wilson_interval(round(s), round(n))
        return found.low, found.high
    if n < 2:
        return None, None
    mean = s / n
    error = (max(ss / n - mean * mean, 0.0) / (n - 1)) ** 0.5
    return mean - _NORMAL_95 * error, mean + _NORMAL_95 * error
