"""One visit a line, as JSON."""

from __future__ import annotations

import io
from collections.abc import Iterator

from registry.intake.faults import Fault
from registry.intake.readers.json_text import NotJson, parse_json
from registry.intake.readers.lines import bounded_lines
from registry.intake.readers.record import FileRefused, ReadLimits, Record


def read_ndjson(stream: io.BufferedReader, limits: ReadLimits) -> Iterator[Record]:
    """A record for each line that is not blank; one that is no JSON object has a fault.

    :raises FileRefused: ``line_too_long`` ``too_many_rows``.
    """
    for number, line in bounded_lines(stream, limits.line):
        if number > limits.rows:
            raise FileRefused("too_many_rows", number)
        if line.isspace():
            continue
        yield _record(number, line)


def _record(number: int, line: bytes) -> Record:
    places = {"": (number, None)}
    try:
        data = parse_json(line)
    except NotJson as refused:
        return Record(number, {}, places, [Fault("", refused.code)])
    if not isinstance(data, dict):
        return Record(number, {}, places, [Fault("", "not_an_object")])
    return Record(number, data, places)
