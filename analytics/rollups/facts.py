"""The visits of testers' months as columns: read once, scored by every measure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any, Final
from uuid import UUID

import numpy as np
from django.db import connection

from analytics.measures.facts import COLUMNS, Facts, Floats
from analytics.measures.scores import WARM_COOL_CENTRE
from registry.caloric.vocabulary import REPEAT_REASONS_AVOIDABLE, REPEAT_REASONS_INDICATED

_QUERY: Final = Path(__file__).with_name("facts_query.sql")
# Figures of a whole visit: not one hand's where two shared it.
_OF_ONE_HAND: Final = (
    "right_warm",
    "right_cool",
    "left_warm",
    "left_cool",
    "right_total",
    "left_total",
    "warm_total",
    "cool_total",
    "total_spv",
    "unilateral_weakness_percent",
    "directional_preponderance_percent",
    "gain_asymmetry_percent",
    "fixation_index_overall",
    "weakness_met",
    "preponderance_met",
    "low_total_met",
    "inverted",
    "negative_peaks",
    "incomplete",
    "first_excess",
    "fixation_recorded",
    "rests",
    "rests_kept",
    "durations",
    "durations_kept",
    "reported",
    "reported_differs",
    "beat_peaks",
    "beat_peaks_differ",
    "check_current",
    "after_failed",
)
_CELLS: Final = ("right_warm", "right_cool", "left_warm", "left_cool")

TesterMonth = tuple[UUID, date]


@dataclass(frozen=True, slots=True)
class FactRows:
    """One row a visit and hand, ordered by cell; ``facts`` and ``more`` are its columns.

    ``ids`` holds visit, subject, tester, irrigator and recorder; ``more`` what only some readers
    need: fixation by cell, spontaneous nystagmus, referral.
    """

    visit_ids: list[UUID]
    subject_ids: list[UUID]
    tester_ids: list[UUID]
    irrigator_ids: list[UUID]
    recorder_ids: list[UUID | None]
    months: list[date]
    visit_dates: list[date]
    strata: list[str]
    sole: list[bool]
    facts: Facts
    more: dict[str, Floats]

    def __len__(self) -> int:
        return len(self.visit_ids)


def read_facts(clinic_id: int, keys: Sequence[TesterMonth]) -> FactRows:
    """The visits in force of these testers' months, in the scope that is open.

    Withdrawn and training visits are left out. A tester who irrigated in another's visit is
    found too, with the irrigations that were theirs.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            _query(),
            {
                "clinic": clinic_id,
                "testers": [tester for tester, _ in keys],
                "months": [month for _, month in keys],
                "avoidable": list(REPEAT_REASONS_AVOIDABLE),
                "indicated": list(REPEAT_REASONS_INDICATED),
            },
        )
        names = [column.name for column in cursor.description or ()]
        wanted = set(keys)
        tester, month = names.index("tester_id"), names.index("month")
        # A visit shared by two hands brings the other hand's row along: it is not asked for.
        rows = [row for row in cursor.fetchall() if (row[tester], row[month]) in wanted]
    return _as_columns({name: [row[at] for row in rows] for at, name in enumerate(names)})


@cache
def _query() -> str:
    return _QUERY.read_text()


def _as_columns(columns: dict[str, list[Any]]) -> FactRows:
    sole = columns["sole"]
    numbers = {name: _floats(columns[name]) for name in (*COLUMNS, *_MORE) if name in columns}
    numbers["first_excess"] = _first_excess(columns, numbers)
    shared = ~np.array(sole, dtype=bool)
    for name in _OF_ONE_HAND:
        numbers[name] = np.where(shared, np.nan, numbers[name])
    return FactRows(
        visit_ids=columns["visit_id"],
        subject_ids=columns["subject_id"],
        tester_ids=columns["tester_id"],
        irrigator_ids=columns["irrigator_id"],
        recorder_ids=columns["recorder_id"],
        months=columns["month"],
        visit_dates=columns["visit_date"],
        strata=columns["stratum"],
        sole=sole,
        facts=Facts(**{name: numbers[name] for name in COLUMNS}),
        more={name: numbers[name] for name in _MORE},
    )


_MORE: Final = (
    "acute",
    "right_warm_fixation",
    "right_cool_fixation",
    "left_warm_fixation",
    "left_cool_fixation",
    "spontaneous_spv",
    "spontaneous_handling",
)


def _floats(values: list[Any]) -> Floats:
    return np.array(values, dtype=np.float64)


def _first_excess(columns: dict[str, list[Any]], numbers: dict[str, Floats]) -> Floats:
    """ln of the first response over what the other three counted ones make expect.

    Warm responses are taken down and cool ones up by half the usual warm/cool ratio first.
    """
    usual = {"warm": WARM_COOL_CENTRE / 2, "cool": -WARM_COOL_CENTRE / 2}
    logs = np.stack([_log(numbers[cell]) - usual[cell.split("_")[1]] for cell in _CELLS])
    cells = [
        _CELLS.index(name) if (name := f"{ear}_{stimulus}") in _CELLS else -1
        for ear, stimulus in zip(columns["first_ear"], columns["first_stimulus"], strict=True)
    ]
    place = np.array(cells, dtype=np.int64)
    rows = np.arange(len(place))
    warm = np.isin(place, (0, 2))
    first = _log(_floats(columns["first_peak"])) - np.where(warm, usual["warm"], usual["cool"])
    others = (logs.sum(axis=0) - logs[place, rows]) / 3.0 if len(place) else np.empty(0)
    return np.where(place < 0, np.nan, first - others)


def _log(values: Floats) -> Floats:
    return np.log(np.where(values > 0, values, np.nan))
