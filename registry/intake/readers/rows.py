"""Rows of a table, whatever file they come from."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from registry.intake.readers.cells import BLANK


class Row(NamedTuple):
    """Cells of one row; ``number`` counts from 1 as a spreadsheet does, the header included."""

    number: int
    cells: Sequence[object]

    def cell(self, at: int) -> object:
        """The cell at a position from 0; rows may be shorter than their header."""
        return self.cells[at] if at < len(self.cells) else BLANK

    @property
    def is_blank(self) -> bool:
        return all(cell is BLANK or cell == "" for cell in self.cells)


@dataclass(frozen=True, slots=True)
class Rows:
    """The rows, the header first, and whether a decimal comma is read."""

    rows: Iterator[Row]
    comma: bool = False


class CellError:
    """Stands for a spreadsheet's own error (#N/A) in a cell."""

    def __str__(self) -> str:
        return "#"


CELL_ERROR = CellError()
