"""One tester: measures month by month, balance among the others, repeats, last digits."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final
from uuid import UUID

import numpy as np

from analytics.dashboards.about_subject import Reader, measure_months
from analytics.dashboards.disclosure import (
    MIDDLE_HALF_FROM,
    MIDDLE_MOST_FROM,
    SMALLEST_CELL,
    large_enough,
    may_compare,
)
from analytics.dashboards.figures.balance import Window, balance
from analytics.dashboards.figures.bars import bars
from analytics.dashboards.figures.parts import many, said
from analytics.dashboards.figures.style import Json
from analytics.dashboards.limits import ratio
from analytics.dashboards.sources import Floats, Source
from analytics.dashboards.words import NO_OTHERS

BALANCE: Final = "right_left_balance"
_WINDOWS: Final = (3, 6, 12, 24)
_QUANTILES: Final = (0.10, 0.25, 0.50, 0.75, 0.90)
_NORMAL_95: Final = 1.959963984540054


def tester_content(source: Source, tester: UUID, clinic_id: int, reader: Reader) -> Json:
    """All figures of one tester for one kind of reader; nobody else's dots or codes."""
    compared = source.compared("tester", tester)
    row = source.summaries.get(("tester", tester))
    work = row.figures if row else {}
    figures = measure_months(
        source.testers, tester, clinic_id=clinic_id, compared=compared, reader=reader
    )
    if tester in source.testers.place:
        figures["balance"] = _balance(source, tester, clinic_id, reader)
    if _may_show(work, reader):
        figures |= {"repeats": _repeats(work["repeats"]), **_digits(work["digits"])}
    return {
        "figures": figures,
        "facts": {
            "tester": source.tester_codes.get(tester),
            "clinic": source.clinics[clinic_id].code,
        },
    }


def _may_show(work: dict[str, Any], reader: Reader) -> bool:
    repeats = work.get("repeats")
    if not repeats or not repeats["visits"]:
        return False
    return reader.small_shown or repeats["visits"] >= SMALLEST_CELL


def _balance(source: Source, tester: UUID, clinic_id: int, reader: Reader) -> Json:
    at = source.testers.place[tester]
    may = may_compare(source.testers.years[BALANCE].clinics, own=clinic_id)
    windows = [_window(source, at, months, may, reader) for months in _WINDOWS]
    year = windows[_WINDOWS.index(12)]
    return balance(
        windows,
        title="Right-left balance among the network's testers",
        says=_balance_says(year, may),
        footer=(
            "Bounded score of the signed weakness (positive: left comes out lower), complete"
            " months, like with like. Quantiles of the testers with enough visits in the same"
            f" months; from {MIDDLE_HALF_FROM} testers on the middle half, from"
            f" {MIDDLE_MOST_FROM} the middle four fifths."
        ),
        unit="points",
        decimals=2,
    )


def _window(source: Source, at: int, months: int, may: bool, reader: Reader) -> Window:
    subjects = source.testers
    measure = subjects.tallies.measures.index(BALANCE)
    n, s = (getattr(subjects.tallies, one)[measure, :, -months:].sum(axis=1) for one in ("n", "s"))
    enough = large_enough(n, subjects.visits[:, -months:].sum(axis=1))
    value = ratio(s, n)
    shown = bool(n[at] > 0 if reader.small_shown else enough[at])
    reach = _NORMAL_95 * (subjects.years[BALANCE].sigma2 / n[at]) ** 0.5 if shown else 0.0
    own = float(value[at]) if shown else None
    return Window(
        months=months,
        n=float(n[at]) if shown else 0.0,
        value=own,
        low=None if own is None else own - reach,
        high=None if own is None else own + reach,
        testers=int(enough.sum()) if may else 0,
        quantiles=_quantiles(value[enough]) if may else (None,) * len(_QUANTILES),
    )


def _quantiles(values: Floats) -> tuple[float | None, ...]:
    if len(values) < MIDDLE_HALF_FROM:
        return (None,) * len(_QUANTILES)
    found = [float(one) for one in np.quantile(values, _QUANTILES)]
    if len(values) < MIDDLE_MOST_FROM:
        return (None, *found[1:-1], None)
    return tuple(found)


def _balance_says(year: Window, may: bool) -> str:
    if year.value is None:
        return "Too few visits in the last twelve months for a figure."
    own = f"{said(year.value, 2, 'points')} over {many(year.n, 'visit')} in twelve months"
    if not may:
        return f"{own}. {NO_OTHERS}"
    low, high = year.quantiles[1], year.quantiles[3]
    if low is None or high is None:
        return f"{own}; too few testers in the network to draw their middle half."
    return (
        f"{own}; the middle half of {many(year.testers, 'tester')} lies between"
        f" {said(low, 2, '')} and {said(high, 2, 'points')}."
    )


def _repeats(found: dict[str, Any]) -> Json:
    reasons = dict(sorted(found["by_reason"].items()))
    if found["without_reason"]:
        reasons["without a reason"] = found["without_reason"]
    return bars(
        [one.replace("_", " ") for one in reasons],
        list(reasons.values()),
        title="Repeats by reason",
        says=(
            f"{many(found['visits_with_repeat'], 'visit')} of {found['visits']:,} had a repeat;"
            f" {found['avoidable']} reasons avoidable, {found['indicated']} indicated."
        ),
        footer="Repeated irrigations of the last twelve months, the current one included.",
        unit="irrigations",
        along="Reason",
        lying=True,
    )


def _digits(found: dict[str, Any]) -> dict[str, Json]:
    return {
        f"digits_{place}": _digit_bars(place, one) for place, one in found.items() if one["peaks"]
    }


def _digit_bars(place: str, found: dict[str, Any]) -> Json:
    values: Sequence[int] = found["counts"]
    score, chance = found["score"], found["score_by_chance"]
    differs = score is not None and chance is not None and score > chance
    verb = "differs from even by more than" if differs else "does not differ from even by more than"
    return bars(
        [str(digit) for digit in range(len(values))],
        values,
        title=f"Last digit of the {place} of peaks",
        says=(
            f"{many(found['peaks'], 'peak')}: the spread of digits {verb} chance gives"
            f" (score {said(score, 1, '')}, by chance up to {said(chance, 1, '')})."
        ),
        footer=(
            "Strokes: what even writing gives. Score 100 root(chi-square / (n df)), 0 even, 100"
            " always the same digit (Kuulasmaa et al. 1998, WHO MONICA)."
        ),
        unit="peaks",
        along="Last digit",
        by_chance=[found["peaks"] / len(values)] * len(values),
    )
