"""Sums by cell: a tester's month with one irrigator, recorder and stratum."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from itertools import pairwise
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from analytics.measures import catalogue
from analytics.measures.catalogue import SCORES_VERSION
from analytics.measures.scores import score
from analytics.models import Cell
from analytics.rollups.facts import FactRows, TesterMonth
from analytics.rollups.mix import Mix, expected
from registry.intake.store import insert_rows
from registry.models.fields import new_id

Row = dict[str, Any]
_KEY: Final = ("tester_ids", "irrigator_ids", "recorder_ids", "months", "strata")


def cells_replace(
    clinic_id: int, keys: Sequence[TesterMonth], rows: FactRows, *, mix: Mix, at: datetime
) -> int:
    """Make the cells of these testers' months anew from ``rows``; how many there are now."""
    for tester_id in {tester for tester, _ in keys}:
        months = [month for tester, month in keys if tester == tester_id]
        Cell.objects.filter(clinic_id=clinic_id, tester_id=tester_id, month__in=months).delete()
    made = cells_of(rows, mix=mix)
    insert_rows(
        Cell,
        [
            {"clinic_id": clinic_id, "id": new_id(), "computed_at": at, "mix_version": mix.version}
            | row
            for row in made
        ],
    )
    return len(made)


def cells_of(rows: FactRows, *, mix: Mix) -> list[Row]:
    """One row of sums a cell; ``rows`` must be ordered by cell, as ``read_facts`` gives them."""
    if not len(rows):
        return []
    starts = _starts(rows)
    measures = [measure.id for measure in catalogue().scored]
    scores = [score(measure, rows.facts) for measure in measures]
    sums = {
        "n": _sums([one.n for one in scores], starts),
        "s": _sums([one.s for one in scores], starts),
        "ss": _sums([one.ss for one in scores], starts),
        "expected": _sums(
            [expected(name, one, rows, mix) for name, one in zip(measures, scores, strict=True)],
            starts,
        ),
    }
    ends = [*starts[1:].tolist(), len(rows)]
    return [
        {
            "tester_id": rows.tester_ids[start],
            "irrigator_id": rows.irrigator_ids[start],
            "recorder_id": rows.recorder_ids[start],
            "month": rows.months[start],
            "stratum": rows.strata[start],
            "visits": end - start,
            "scores_version": SCORES_VERSION,
            **{name: values[:, place].tolist() for name, values in sums.items()},
        }
        for place, (start, end) in enumerate(zip(starts.tolist(), ends, strict=True))
    ]


def _starts(rows: FactRows) -> NDArray[np.int64]:
    """Where a new cell begins."""
    keys = list(zip(*(getattr(rows, name) for name in _KEY), strict=True))
    changes = [place for place, (one, next_) in enumerate(pairwise(keys), start=1) if one != next_]
    return np.array([0, *changes], dtype=np.int64)


def _sums(columns: list[NDArray[np.float64]], starts: NDArray[np.int64]) -> NDArray[np.float64]:
    summed: NDArray[np.float64] = np.add.reduceat(np.stack(columns), starts, axis=1)
    return summed
