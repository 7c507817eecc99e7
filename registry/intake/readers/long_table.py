"""The long table: one row an irrigation, the visit's fields on each of its rows."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from registry.intake.faults import Fault
from registry.intake.fields import MOST_IRRIGATIONS
from registry.intake.readers.assembly import Assembly
from registry.intake.readers.cells import BLANK, value_of
from registry.intake.readers.header import Header
from registry.intake.readers.record import Record
from registry.intake.readers.rows import Row

# One more than allowed is enough for the checks to refuse; a file of one visit stays small.
_KEPT: Final = MOST_IRRIGATIONS + 1


def read_long(rows: Iterator[Row], header: Header, *, comma: bool) -> Iterator[Record]:
    """A record for each run of rows with one ``visit_ref``.

    Rows must stand together, because a visit is passed on before the file has been read to its
    end; one that comes back later has the fault ``visit_rows_not_together``.
    """
    reference = _Reference(header)
    current: Assembly | None = None
    for row in rows:
        is_same = reference.continues(row)
        if current is None or not is_same:
            if current is not None:
                yield current.record()
            current = Assembly(row.number, comma)
            if reference.came_before():
                current.faults.append(Fault("/visit_ref", "visit_rows_not_together"))
        _take(current, row, header)
    if current is not None:
        yield current.record()


class _Reference:
    """Which visit a row belongs to, and which visits have been seen."""

    def __init__(self, header: Header) -> None:
        at = [one.at for one in header.of_visit if one.column.name == "visit_ref"]
        self._at = at[0] if at else None
        self._current: object = BLANK
        # Hashes, because a million codes would take twice the memory; two codes of a million
        # visits share one with a chance of 1 in 10 million.
        self._seen: set[int] = set()

    def continues(self, row: Row) -> bool:
        """Whether the row belongs to the visit of the row before; remembers the row's visit."""
        before, self._current = self._current, self._read(row)
        return self._current is not BLANK and self._current == before

    def came_before(self) -> bool:
        """Whether the visit of the last row was seen further up; remembers it."""
        if self._current is BLANK:
            return False
        known = len(self._seen)
        self._seen.add(hash(self._current))
        return len(self._seen) == known

    def _read(self, row: Row) -> object:
        return BLANK if self._at is None else value_of(row.cell(self._at), "code", comma=False)


def _take(assembly: Assembly, row: Row, header: Header) -> None:
    assembly.take_visit(row, header)
    irrigations = assembly.data.setdefault("irrigations", [])
    if len(irrigations) == _KEPT:
        return
    pointer = f"/irrigations/{len(irrigations)}"
    irrigation: dict[str, Any] = {}
    irrigations.append(irrigation)
    assembly.places[pointer] = (row.number, None)
    for standing in header.of_irrigations:
        assembly.take(row, standing, irrigation, pointer + standing.tail)
