"""Cells merged into the monthly sums of testers, irrigators and clinics of a network."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final, Literal
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from analytics.detection.tallies import Tallies
from analytics.measures import catalogue
from analytics.measures.catalogue import SCORES_VERSION
from analytics.models import Cell

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
SubjectKind = Literal["tester", "irrigator"]

# A recorder all of whose peaks are whole numbers has no tenths to give: its digits say nothing.
_DEVICE_WHOLE_FROM: Final = 0.97
_DIGITS: Final = ("digits_whole", "digits_five")
# A medium and way of reading that few testers use is drawn less far towards the others' level.
_STRATUM_HALF: Final = 3.0
_STRATUM_VISITS: Final = 30
# Longer histories than this only make a replay slow: the past compared with is two years.
MOST_MONTHS: Final = 60


@dataclass(frozen=True, slots=True)
class CellTable:
    """The cells of some clinics as arrays, one row a cell; sums are (measures, cells)."""

    clinics: Ints
    testers: list[UUID]
    irrigators: list[UUID]
    recorders: list[UUID | None]
    strata: list[str]
    months: list[date]
    visits: Ints
    n: Floats
    s: Floats
    ss: Floats
    expected: Floats

    def __len__(self) -> int:
        return len(self.testers)


def read_cells(clinic_ids: Sequence[int], **filters: Any) -> CellTable:
    """The cells of these clinics, in the scope that is open; those of older scores left out."""
    rows = list(
        Cell.objects.filter(clinic_id__in=clinic_ids, scores_version=SCORES_VERSION, **filters)
        .order_by("clinic_id", "tester_id", "month", "id")
        .values_list(
            *("clinic_id", "tester_id", "irrigator_id", "recorder_id", "stratum", "month"),
            *("visits", "n", "s", "ss", "expected"),
        )
    )
    columns: list[list[Any]] = [list(column) for column in zip(*rows, strict=True)] or [
        [] for _ in range(11)
    ]
    measures = len(catalogue().scored)

    def sums(at: int) -> Floats:
        return np.array(columns[at], dtype=np.float64).reshape(len(rows), measures).T.copy()

    return CellTable(
        clinics=np.array(columns[0], dtype=np.int64),
        testers=columns[1],
        irrigators=columns[2],
        recorders=columns[3],
        strata=columns[4],
        months=columns[5],
        visits=np.array(columns[6], dtype=np.int64),
        n=sums(7),
        s=sums(8),
        ss=sums(9),
        expected=sums(10),
    )


def tallies_of(cells: CellTable, kind: SubjectKind, *, until: date) -> Tallies:
    """Monthly sums of each tester or irrigator up to the month of ``until``, which is complete.

    Compared like with like: what the patients' mix adds is taken off, and what a medium or a way
    of reading adds across the network. Digits of recorders that give whole numbers are left out.
    """
    measures = catalogue().of(kind)
    order = [catalogue().scored.index(measure) for measure in measures]
    n, s, ss = _like_with_like(cells)
    ids = cells.testers if kind == "tester" else cells.irrigators
    subjects = sorted(set(ids), key=str)
    months = _months(cells.months, until)
    inside = np.array([months[0] <= month <= months[-1] for month in cells.months], dtype=np.bool_)
    place = {subject: at for at, subject in enumerate(subjects)}
    month_place = {month: at for at, month in enumerate(months)}
    rows = np.array([place[one] for one in ids], dtype=np.int64)[inside]
    columns = np.array(
        [month_place[month] for month, keep in zip(cells.months, inside, strict=True) if keep],
        dtype=np.int64,
    )
    shape = (len(measures), len(subjects), len(months))

    def placed(values: Floats) -> Floats:
        out = np.zeros(shape)
        for at, measure in enumerate(order):
            np.add.at(out[at], (rows, columns), values[measure, inside])
        return out

    clinics = np.zeros(len(subjects), dtype=np.int64)
    for one, clinic in zip(ids, cells.clinics.tolist(), strict=True):
        clinics[place[one]] = clinic
    return Tallies(
        measures=tuple(measure.id for measure in measures),
        months=months,
        testers=tuple(subjects),
        clinics=clinics,
        n=placed(n),
        s=placed(s),
        ss=placed(ss),
    )


def _months(found: Sequence[date], until: date) -> tuple[date, ...]:
    """Consecutive months from the first with a visit to that of ``until``."""
    last = until.replace(day=1)
    first = min([*found, last])
    count = min((last.year - first.year) * 12 + last.month - first.month + 1, MOST_MONTHS)
    return tuple(month_back(last, steps) for steps in range(count - 1, -1, -1))


def month_back(month: date, steps: int) -> date:
    """The first of the month ``steps`` months before (negative: after)."""
    number = month.year * 12 + month.month - 1 - steps
    return date(number // 12, number % 12 + 1, 1)


def _like_with_like(cells: CellTable) -> tuple[Floats, Floats, Floats]:
    n, s = cells.n.copy(), cells.s - cells.expected
    for name in _DIGITS:
        at = _at(name)
        n[at], s[at] = n[at] * ~whole_devices(cells), s[at] * ~whole_devices(cells)
    for at, measure in enumerate(catalogue().scored):
        if measure.kind == "share":
            s[at] = np.clip(s[at], 0.0, n[at])
        elif measure.group == "results":
            s[at] -= n[at] * _stratum_offset(cells, n[at], s[at])
    return n, s, _same_spread(cells, n, s)


def _same_spread(cells: CellTable, n: Floats, s: Floats) -> Floats:
    """Squares that go with the shifted sums: the spread within a cell is what it was."""
    safe = np.where(cells.n > 0, cells.n, 1.0)
    within = np.maximum(cells.ss - cells.s**2 / safe, 0.0)
    return np.where(n > 0, within + s**2 / safe, 0.0)


def _at(name: str) -> int:
    return [measure.id for measure in catalogue().scored].index(name)


def whole_devices(cells: CellTable) -> NDArray[np.bool_]:
    """Cells of recorders (of clinics, where no recorder is named) that give no tenths."""
    whole = _at("digits_whole")
    keys = list(zip(cells.clinics.tolist(), map(str, cells.recorders), strict=True))
    place = {key: at for at, key in enumerate(dict.fromkeys(keys))}
    group = np.array([place[key] for key in keys], dtype=np.int64)
    if not len(group):
        return np.zeros(0, dtype=np.bool_)
    peaks = np.bincount(group, cells.n[whole])
    found = np.bincount(group, cells.s[whole])
    is_whole: NDArray[np.bool_] = (found >= _DEVICE_WHOLE_FROM * peaks)[group]
    return is_whole


def _stratum_offset(cells: CellTable, n: Floats, s: Floats) -> Floats:
    """What a cell's medium and way of reading add to a score across the network, a value a cell.

    The median over testers of the stratum minus the median over all, drawn to zero where few
    testers use it: their own manner must not be taken for the medium's.
    """
    offsets: dict[str, float] = {}
    everywhere = _tester_means(cells, n, s, None)
    middle = float(np.median(everywhere)) if len(everywhere) else 0.0
    for stratum in set(cells.strata):
        means = _tester_means(cells, n, s, stratum)
        share = len(means) / (len(means) + _STRATUM_HALF)
        offsets[stratum] = share * (float(np.median(means)) - middle) if len(means) else 0.0
    return np.array([offsets[stratum] for stratum in cells.strata], dtype=np.float64)


def _tester_means(cells: CellTable, n: Floats, s: Floats, stratum: str | None) -> Floats:
    keep = np.array([stratum in (None, one) for one in cells.strata], dtype=np.bool_)
    places = {one: at for at, one in enumerate(dict.fromkeys(cells.testers))}
    group = np.array([places[one] for one in cells.testers], dtype=np.int64)[keep]
    if not len(group):
        return np.empty(0)
    visits, sums = np.bincount(group, n[keep]), np.bincount(group, s[keep])
    enough = visits >= _STRATUM_VISITS
    return np.asarray(sums[enough] / visits[enough])
