"""Rows of the first sheet of an XLSX workbook. Nothing else of the workbook is looked at."""

from __future__ import annotations

import contextlib
import itertools
import shutil
import tempfile
import warnings
import zipfile
import zlib
from collections.abc import Iterator
from typing import IO, Any, BinaryIO, Final

import openpyxl
from openpyxl.cell.cell import TYPE_ERROR, TYPE_FORMULA
from openpyxl.utils.exceptions import InvalidFileException

from registry.intake.readers.record import FileRefused, ReadLimits
from registry.intake.readers.rows import CELL_ERROR, Row, Rows

_MOST_PARTS: Final = 1_000
_BLOCK: Final = 64 * 1024
_ROWS_AT_ONCE: Final = 200
_IN_MEMORY: Final = 4 * 1024 * 1024
# Parts of a workbook never need one, and entities are how a small XML file becomes a large one.
_FORBIDDEN: Final = (b"<!DOCTYPE", b"<!ENTITY")
# What the libraries below raise for a workbook that is broken in one way or another.
_BROKEN: Final = (
    zipfile.BadZipFile,
    zlib.error,
    InvalidFileException,
    ValueError,  # also XML with entities, by defusedxml
    KeyError,
    IndexError,
    AttributeError,
    TypeError,
    SyntaxError,  # XML that is not well formed
    OSError,
    EOFError,
    NotImplementedError,
    RuntimeError,  # an encrypted part
)


def open_xlsx(stream: BinaryIO, limits: ReadLimits) -> Rows:
    """The rows of the first sheet; dates as dates, numbers as numbers.

    :raises FileRefused: here or while reading; ``not_readable`` ``unpacked_too_large``
        ``formula_not_allowed`` (with row and position of the column).
    """
    return Rows(_rows(stream, limits))


def _rows(stream: BinaryIO, limits: ReadLimits) -> Iterator[Row]:
    with tempfile.SpooledTemporaryFile(_IN_MEMORY) as file:
        shutil.copyfileobj(stream, file, _BLOCK)
        try:
            _check_size(file, limits.workbook)
            yield from _cells(file)
        except _BROKEN:
            raise FileRefused("not_readable") from None


def _check_size(file: IO[bytes], most: int) -> None:
    """First by the directory, which costs nothing; then by unpacking, because it may lie."""
    with zipfile.ZipFile(file) as archive:
        parts = archive.infolist()
        if len(parts) > _MOST_PARTS or sum(part.file_size for part in parts) > most:
            raise FileRefused("unpacked_too_large")
        left = most
        for part in parts:
            with archive.open(part) as unpacked:
                left -= _length(unpacked, left)


def _length(unpacked: IO[bytes], most: int) -> int:
    length, before = 0, b""
    while block := unpacked.read(_BLOCK):
        length += len(block)
        if length > most:
            raise FileRefused("unpacked_too_large")
        if any(word in before + block for word in _FORBIDDEN):
            raise FileRefused("not_readable")
        before = block[-len(_FORBIDDEN[0]) :]
    return length


def _cells(file: IO[bytes]) -> Iterator[Row]:
    with _no_warnings():
        book = openpyxl.load_workbook(file, read_only=True, keep_links=False)
    try:
        sheet: Any = book.worksheets[0]
        # The size a sheet claims may be wrong, and then rows would be cut off.
        sheet.reset_dimensions()
        for number, cells in enumerate(_in_blocks(sheet.iter_rows()), 1):
            yield Row(number, [_value(cell, number, at) for at, cell in enumerate(cells, 1)])
    finally:
        book.close()


def _in_blocks(rows: Iterator[Any]) -> Iterator[Any]:
    """The rows, read a block at a time: a filter of warnings must not stay set across a yield."""
    while True:
        with _no_warnings():
            block = list(itertools.islice(rows, _ROWS_AT_ONCE))
        if not block:
            return
        yield from block


@contextlib.contextmanager
def _no_warnings() -> Iterator[None]:
    """Silence about styles and odd serial dates; what a cell holds is judged by the checks."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def _value(cell: Any, row: int, column: int) -> object:
    kind = getattr(cell, "data_type", None)
    if kind == TYPE_FORMULA:
        raise FileRefused("formula_not_allowed", row, column)
    return CELL_ERROR if kind == TYPE_ERROR else cell.value
