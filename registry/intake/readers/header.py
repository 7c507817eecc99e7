"""The header row decides: which of the two tables, and which column is where."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from registry.intake.readers.columns import COLUMNS, SHAPES, VISIT_COLUMNS, Column, Shape
from registry.intake.readers.record import FileRefused

HEADER_ROW: Final = 1

_BY_NAME: Final = {shape: {one.name: one for one in COLUMNS[shape]} for shape in SHAPES}
_OF_VISIT: Final = frozenset(one.name for one in VISIT_COLUMNS)
_ONLY_IN: Final = {shape: frozenset(_BY_NAME[shape]) - _OF_VISIT for shape in SHAPES}


class Standing(NamedTuple):
    """A column of this file: where it stands in a row (from 0), and where its value belongs."""

    at: int
    column: Column
    tail: str


@dataclass(frozen=True, slots=True)
class Header:
    """The shape of the table and its columns, those of the visit apart from the others."""

    shape: Shape
    of_visit: tuple[Standing, ...]
    of_irrigations: tuple[Standing, ...]
    width: int


def read_header(cells: Sequence[object], *, defaulted: Collection[str] = ()) -> Header:
    """Columns in any order. Those ``defaulted`` by the clinic may be missing.

    :raises FileRefused: ``header_missing`` ``unknown_column`` ``duplicate_column``
        ``mixed_shapes`` ``missing_column``.
    """
    names = _names(cells)
    known = [name for name in names if any(name in _BY_NAME[shape] for shape in SHAPES)]
    if not known:
        raise FileRefused("header_missing", HEADER_ROW)
    _refuse_unknown(names, known)
    shape = _shape_of(known)
    _refuse_missing(known, shape, defaulted)
    columns = [_BY_NAME[shape][name] for name in names]
    places = [Standing(at, column, column.tail) for at, column in enumerate(columns)]
    return Header(
        shape,
        of_visit=tuple(place for place in places if place.column.holder == "visit"),
        of_irrigations=tuple(place for place in places if place.column.holder == "irrigation"),
        width=len(names),
    )


def _names(cells: Sequence[object]) -> list[str]:
    """Names without the blank cells that spreadsheets leave behind at the end."""
    names = [cell.strip() if isinstance(cell, str) else "" for cell in cells]
    while names and not names[-1] and cells[len(names) - 1] in (None, ""):
        names.pop()
    return names


def _refuse_unknown(names: list[str], known: list[str]) -> None:
    for position, name in enumerate(names, 1):
        if name not in known:
            raise FileRefused("unknown_column", HEADER_ROW, position)
        if name in names[: position - 1]:
            raise FileRefused("duplicate_column", HEADER_ROW, name)


def _shape_of(known: list[str]) -> Shape:
    found = [shape for shape in SHAPES if not _ONLY_IN[shape].isdisjoint(known)]
    if len(found) > 1:
        raise FileRefused("mixed_shapes", HEADER_ROW)
    # With columns of the visit alone the long table is meant and lacks its ear.
    return found[0] if found else "long"


def _refuse_missing(known: list[str], shape: Shape, defaulted: Collection[str]) -> None:
    for column in COLUMNS[shape]:
        if column.needed and column.name not in known and column.name not in defaulted:
            raise FileRefused("missing_column", HEADER_ROW, column.name)
