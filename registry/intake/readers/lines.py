"""Lines of a text file, each with its number, none longer than allowed."""

from __future__ import annotations

import io
from collections.abc import Iterator

from registry.intake.readers.record import FileRefused


def bounded_lines(stream: io.BufferedReader, most: int) -> Iterator[tuple[int, bytes]]:
    """Each line with its end, numbered from 1.

    A file without line ends would otherwise be read into memory whole.

    :raises FileRefused: ``line_too_long``.
    """
    number = 0
    while line := stream.readline(most + 1):
        number += 1
        if len(line) > most:
            raise FileRefused("line_too_long", number)
        yield number, line
