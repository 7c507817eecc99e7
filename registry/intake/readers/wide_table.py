"""The wide table: one row a visit, one group of columns for each of the four cells."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from registry.caloric.vocabulary import CELLS
from registry.intake.readers.assembly import Assembly
from registry.intake.readers.header import Header, Standing
from registry.intake.readers.record import Record
from registry.intake.readers.rows import Row

# With one of these a response was recorded. Other columns (a temperature, a duration) are often
# filled down the whole sheet, also where a cell was not irrigated.
_RESPONSE: Final = ("peak_spv", "fixation_spv", "pre_fixation_spv")


def read_wide(rows: Iterator[Row], header: Header, *, comma: bool) -> Iterator[Record]:
    """A record for each row. A cell without a response was not irrigated, unless it says that
    it was and is not usable."""
    groups = {cell: _columns_of(cell, header) for cell in CELLS}
    for row in rows:
        assembly = Assembly(row.number, comma)
        assembly.take_visit(row, header)
        assembly.data["irrigations"] = []
        for cell, columns in groups.items():
            _take_cell(assembly, row, cell, columns)
        yield assembly.record()


def _columns_of(cell: str, header: Header) -> list[Standing]:
    """A cell's own columns before those that serve both ears, so that its own temperature wins."""
    stimulus = cell.partition("_")[2]
    own = [one for one in header.of_irrigations if one.column.cell == cell]
    return own + [one for one in header.of_irrigations if one.column.cell == stimulus]


def _take_cell(assembly: Assembly, row: Row, cell: str, columns: list[Standing]) -> None:
    irrigations = assembly.data["irrigations"]
    pointer = f"/irrigations/{len(irrigations)}"
    ear, _, stimulus = cell.partition("_")
    irrigation: dict[str, Any] = {"ear": ear, "stimulus": stimulus}
    attempt = Assembly(row.number, assembly.comma)
    for standing in columns:
        if standing.column.field.name not in irrigation:
            attempt.take(row, standing, irrigation, pointer + standing.tail)
    if _was_done(irrigation) or attempt.faults:
        irrigations.append(irrigation)
        assembly.faults += attempt.faults
        attempt.places.pop("")
        assembly.places |= attempt.places
        assembly.places[pointer] = (row.number, f"{cell}.peak_spv")


def _was_done(irrigation: dict[str, Any]) -> bool:
    return irrigation.get("usable") is False or any(name in irrigation for name in _RESPONSE)
