"""One record while its cells are being put together."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from registry.intake.faults import Fault
from registry.intake.readers.cells import BLANK, value_of
from registry.intake.readers.header import HEADER_ROW, Header, Standing
from registry.intake.readers.record import Place, Record
from registry.intake.readers.rows import CELL_ERROR, Row


@dataclass(slots=True)
class Assembly:
    """The nested values of a visit, where each came from, and what only a reader sees."""

    row: int
    comma: bool
    data: dict[str, Any] = field(default_factory=dict)
    places: dict[str, Place] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    first: Row | None = None

    def __post_init__(self) -> None:
        self.places[""] = (self.row, None)

    def take_visit(self, row: Row, header: Header) -> None:
        """Put the visit's own columns in; a row after the first must not contradict it."""
        if len(row.cells) > header.width and not Row(0, row.cells[header.width :]).is_blank:
            self._fault("", "row_too_wide", (row.number, None))
        before, self.first = self.first, self.first or row
        for standing in header.of_visit:
            # Most cells repeat the row above, and reading them again is half of the work.
            if before is not None and row.cell(standing.at) == before.cell(standing.at):
                continue
            holder = self.data
            if standing.column.group:
                holder = holder.setdefault(standing.column.group, {})
            self.take(row, standing, holder, standing.tail)

    def take(self, row: Row, standing: Standing, holder: dict[str, Any], pointer: str) -> None:
        """Put one cell into ``holder``, remember its place and what is wrong with it."""
        place = (row.number, standing.column.name)
        value = self.read(row, standing, pointer)
        if value is BLANK:
            # What is missing is missing here, so that a fault can say in which column.
            self.places.setdefault(pointer, place)
            return
        name = standing.column.field.name
        held = holder.get(name)
        if held is None:
            holder[name] = value
            self.places[pointer] = place
        elif held != value:
            self._fault(pointer, "visit_fields_differ", place)

    def read(self, row: Row, standing: Standing, pointer: str) -> object:
        """The value of one cell; a formula or an error in it is a fault and no value."""
        cell = row.cell(standing.at)
        if cell is CELL_ERROR or (isinstance(cell, str) and cell.startswith("=")):
            code = "error_in_cell" if cell is CELL_ERROR else "formula_in_cell"
            self._fault(pointer, code, (row.number, standing.column.name))
            return BLANK
        return value_of(cell, standing.column.field.kind, comma=self.comma)

    def _fault(self, pointer: str, code: str, place: Place) -> None:
        """Note a fault once, at the first row that has it: further rows often repeat it."""
        fault = Fault(pointer, code)
        if fault not in self.faults:
            self.faults.append(fault)
            self.places[pointer] = place

    def record(self) -> Record:
        data = {name: value for name, value in self.data.items() if value != {}}
        return Record(self.row - HEADER_ROW, data, self.places, self.faults)
