"""The cells of a network as sums by tester, by irrigator, and by both with the recorder."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analytics.detection.tallies import Tallies
from analytics.rollups.merge import CellTable, tallies_of

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Sums:
    """Monthly sums; the subjects of ``combined`` are triples of tester, irrigator, recorder."""

    testers: Tallies
    irrigators: Tallies
    combined: Tallies


def sums_of(cells: CellTable, *, until: date) -> Sums:
    """All sums, compared like with like, up to the month of ``until``.

    Numbers stand for the ids meanwhile: tens of thousands of cells are looked up many times.
    """
    testers, irrigators, recorders = (
        _numbered(one) for one in (cells.testers, cells.irrigators, cells.recorders)
    )
    triples = list(zip(testers.places, irrigators.places, recorders.places, strict=True))
    numbers: dict[str, Any] = {"testers": testers.places, "irrigators": triples}
    coded = replace(cells, **numbers)
    by_tester = tallies_of(coded, "tester", until=until)
    by_triple = tallies_of(coded, "irrigator", until=until)
    found: Any = by_triple.testers
    named = [(testers.ids[a], irrigators.ids[b], recorders.ids[c]) for a, b, c in found]
    numbered: Any = by_tester.testers
    return Sums(
        testers=replace(by_tester, testers=tuple(testers.ids[one] for one in numbered)),
        irrigators=_grouped(by_triple, [one[1] for one in named]),
        combined=replace(by_triple, testers=tuple(named)),
    )


def visits_by_month(cells: CellTable, ids: Sequence[Hashable], tallies: Tallies) -> Floats:
    """Visits of the subjects of ``tallies`` by its months; ``ids``: the subject of each cell."""
    row = {one: at for at, one in enumerate(tallies.testers)}
    column = {month: at for at, month in enumerate(tallies.months)}
    out = np.zeros((len(row), len(column)))
    for one, month, visits in zip(ids, cells.months, cells.visits.tolist(), strict=True):
        if month in column:
            out[row[one], column[month]] += visits
    return out


@dataclass(frozen=True, slots=True)
class _Numbered:
    ids: list[Any]
    places: list[int]


def _numbered(ids: Sequence[Any]) -> _Numbered:
    place = {one: at for at, one in enumerate(dict.fromkeys(ids))}
    return _Numbered(list(place), [place[one] for one in ids])


def _grouped(tallies: Tallies, names: Sequence[Hashable]) -> Tallies:
    """The sums of subjects of the same name together."""
    place = {one: at for at, one in enumerate(dict.fromkeys(names))}
    rows = np.array([place[one] for one in names], dtype=np.int64)
    clinics = np.zeros(len(place), dtype=np.int64)
    clinics[rows] = tallies.clinics
    member = (rows[None, :] == np.arange(len(place))[:, None]).astype(np.float64)
    return replace(
        tallies,
        testers=tuple(place),
        clinics=clinics,
        n=member @ tallies.n,
        s=member @ tallies.s,
        ss=member @ tallies.ss,
    )
