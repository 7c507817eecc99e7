"""Rows of a CSV file (RFC 4180, with a comma or a semicolon between the cells)."""

from __future__ import annotations

import codecs
import csv
import io
import itertools
from collections.abc import Iterator
from typing import Final

from registry.intake.readers.lines import bounded_lines
from registry.intake.readers.record import FileRefused, ReadLimits
from registry.intake.readers.rows import Row, Rows

_SEMICOLON: Final = ";"


def open_csv(stream: io.BufferedReader, limits: ReadLimits) -> Rows:
    """The rows as they come; where semicolons separate, a comma may be the decimal sign.

    :raises FileRefused: here or while reading; ``not_utf8`` ``not_readable`` ``line_too_long``.
    """
    lines = _decoded(bounded_lines(stream, limits.line))
    first = next(lines, "")
    separator = _separator_of(first)
    rows = csv.reader(itertools.chain([first], lines), delimiter=separator, strict=True)
    return Rows(_numbered(rows), comma=separator == _SEMICOLON)


def _decoded(lines: Iterator[tuple[int, bytes]]) -> Iterator[str]:
    for number, line in lines:
        try:
            text = line.removeprefix(codecs.BOM_UTF8) if number == 1 else line
            yield text.decode("utf-8")
        except UnicodeDecodeError:
            raise FileRefused("not_utf8", number) from None


def _separator_of(header: str) -> str:
    """No name of a column holds either sign, so the header tells without guessing."""
    return _SEMICOLON if _SEMICOLON in header else ","


def _numbered(rows: Iterator[list[str]]) -> Iterator[Row]:
    for number in itertools.count(1):
        try:
            cells = next(rows)
        except StopIteration:
            return
        except csv.Error as error:
            # The one error that says "too long"; a quote that never closes ends here too.
            too_long = str(error).startswith("field larger")
            raise FileRefused("line_too_long" if too_long else "not_readable", number) from None
        yield Row(number, cells)
