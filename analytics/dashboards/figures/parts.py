"""What every figure comes with, and numbers made fit for JSON."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from analytics.dashboards.figures.style import Json


def bundle(
    data: Sequence[Json],
    layout: Json,
    *,
    columns: Sequence[tuple[str, str, str]],
    rows: Sequence[Json],
    title: str,
    says: str,
    footer: str,
) -> Json:
    """A figure with its table (columns as key, title, unit), title, sentence and footer."""
    return {
        "figure": {"data": list(data), "layout": layout},
        "table": {
            "columns": [{"key": key, "title": name, "unit": unit} for key, name, unit in columns],
            "rows": list(rows),
        },
        "title": title,
        "says": says,
        "footer": footer,
    }


def plain(values: ArrayLike, decimals: int) -> list[float | None]:
    """Rounded numbers; what is not finite is null."""
    rounded = np.round(np.asarray(values, dtype=np.float64), decimals)
    # Adding 0 makes minus zero zero.
    return [one + 0.0 if math.isfinite(one) else None for one in rounded.tolist()]


def one_plain(value: float | None, decimals: int) -> float | None:
    """One rounded number, null where it is not finite."""
    return None if value is None else plain([value], decimals)[0]


def counts(values: ArrayLike) -> list[int]:
    """Whole numbers."""
    return [round(one) for one in np.asarray(values, dtype=np.float64).tolist()]


def months_iso(months: Iterable[date]) -> list[str]:
    """Months as ``2026-03``, which a date axis reads."""
    return [f"{month:%Y-%m}" for month in months]


def rows_of(**columns: Sequence[Any]) -> list[Json]:
    """Equally long columns as rows."""
    names = list(columns)
    return [dict(zip(names, values, strict=True)) for values in zip(*columns.values(), strict=True)]


def said(value: float | None, decimals: int, unit: str) -> str:
    """A number in a sentence, with a true minus sign."""
    if value is None or not math.isfinite(value):
        return "not known"
    shown = f"{round(value, decimals) + 0.0:.{decimals}f}".replace("-", "\N{MINUS SIGN}")
    return f"{shown} {unit}".strip()


def many(count: float, singular: str, plural: str | None = None) -> str:
    """``1 visit``, ``2 visits``, ``12,345 visits``."""
    number = round(count)
    return f"{number:,} {singular if number == 1 else plural or singular + 's'}"
