"""A table of visits, long or wide, from the rows of a CSV or XLSX file."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from registry.intake.readers.header import HEADER_ROW, read_header
from registry.intake.readers.long_table import read_long
from registry.intake.readers.record import FileRefused, ReadLimits, Record
from registry.intake.readers.rows import Row, Rows
from registry.intake.readers.wide_table import read_wide


def read_table(
    table: Rows, limits: ReadLimits, *, defaulted: Collection[str] = ()
) -> Iterator[Record]:
    """The visits of a table; its header is read before anything is given back.

    :raises FileRefused: what ``read_header`` raises, and ``too_many_rows``.
    """
    first = next(table.rows, None)
    if first is None:
        raise FileRefused("file_empty")
    header = read_header(first.cells, defaulted=defaulted)
    read = read_long if header.shape == "long" else read_wide
    yield from read(_filled(table.rows, limits.rows), header, comma=table.comma)


def _filled(rows: Iterator[Row], most: int) -> Iterator[Row]:
    """Rows that hold anything. Blank ones count too: a sheet can claim a million of them."""
    for row in rows:
        if row.number - HEADER_ROW > most:
            raise FileRefused("too_many_rows", row.number)
        if not row.is_blank:
            yield row
