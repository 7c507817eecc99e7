"""What a reader gives back, what it may refuse, and how far it will go."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from registry.intake.faults import Fault

Place = tuple[int, str | None]

_MIB: Final = 1024 * 1024


@dataclass(frozen=True, slots=True)
class ReadLimits:
    """How much of a file is read before it is refused; sizes in bytes.

    ``unpacked`` is for gzip, ``workbook`` for what an XLSX file unpacks to: a workbook is held
    in memory while it is read, a stream is not.
    """

    file: int = 2048 * _MIB
    unpacked: int = 8192 * _MIB
    workbook: int = 50 * _MIB
    line: int = 4 * _MIB
    rows: int = 5_000_000


class FileRefused(Exception):
    """The whole file is refused; nothing of it may be kept.

    ``code`` is a key of the fault catalogue; ``row`` counts from 1 as a spreadsheet or an editor
    does, the header included; ``column`` is the name of a known column, or the position (from 1)
    of an unknown one, whose name is never repeated.
    """

    def __init__(self, code: str, row: int | None = None, column: str | int | None = None) -> None:
        super().__init__(code)
        self.code = code
        self.row = row
        self.column = column


@dataclass(frozen=True, slots=True)
class Record:
    """One visit as it stood in the file, in the nested form of JSON, unjudged.

    ``number`` counts data rows (a table's header is not one) or lines from 1, and is the first
    row of the visit. ``places`` leads from a pointer into ``data`` to the row and column as a
    spreadsheet shows them, header included. A cell that could not be read as its column asks
    stays in ``data`` as text, for the checks to refuse; ``faults`` are what only a reader sees.
    """

    number: int
    data: dict[str, Any]
    places: Mapping[str, Place]
    faults: list[Fault] = field(default_factory=list)

    def place_of(self, pointer: str) -> Place:
        """Row and column of what ``pointer`` points at, or of the nearest thing around it."""
        while pointer and pointer not in self.places:
            pointer = pointer.rpartition("/")[0]
        return self.places.get(pointer, (self.number, None))
