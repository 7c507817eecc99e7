"""From the bytes of a file, of whichever kind, to the visits in it."""

from __future__ import annotations

import codecs
import io
from collections.abc import Collection, Iterator
from typing import BinaryIO, Final

from registry.intake.readers.csv_rows import open_csv
from registry.intake.readers.ndjson import read_ndjson
from registry.intake.readers.record import FileRefused, ReadLimits, Record
from registry.intake.readers.table import read_table
from registry.intake.readers.unpack import opened
from registry.intake.readers.xlsx_rows import open_xlsx

_ZIP: Final = b"PK"
# Workbooks of before 2007, and gzip inside gzip: neither is text, and saying so helps more than
# calling it wrongly encoded.
_UNREAD: Final = (b"\xd0\xcf\x11\xe0", b"\x1f\x8b")
_LOOK_AT: Final = 4096


def read_visits(
    stream: BinaryIO, *, limits: ReadLimits, defaulted: Collection[str] = ()
) -> Iterator[Record]:
    """The visits of a file, one after the other, in memory that does not grow with the file.

    The kind is seen from the bytes, never from a name: gzip of any other kind, XLSX, JSON lines
    (the first character is a brace), else CSV. ``defaulted`` names the fields for which the
    clinic has a default, so that a table may lack their columns.

    :raises FileRefused: while iterating; records given before are to be thrown away or kept as
        the upload's policy says.
    """
    readable = opened(stream, limits)
    count = 0
    for record in _records(readable, limits, defaulted):
        count += 1
        yield record
    if not count:
        raise FileRefused("file_empty")


def _records(
    stream: io.BufferedReader, limits: ReadLimits, defaulted: Collection[str]
) -> Iterator[Record]:
    start = stream.peek(_LOOK_AT)[:_LOOK_AT]
    if start.startswith(_ZIP):
        return read_table(open_xlsx(stream, limits), limits, defaulted=defaulted)
    if start.startswith(_UNREAD):
        raise FileRefused("not_readable")
    text = start.removeprefix(codecs.BOM_UTF8).lstrip()
    if not text and len(start) < _LOOK_AT:
        raise FileRefused("file_empty")
    if text.startswith(b"{"):
        return read_ndjson(stream, limits)
    return read_table(open_csv(stream, limits), limits, defaulted=defaulted)
