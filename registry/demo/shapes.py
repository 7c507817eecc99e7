"""Visits as files: a line a visit (NDJSON), a row an irrigation (long), a row a visit (wide)."""

from __future__ import annotations

import csv
import gzip
import io
import json
import re
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from openpyxl import Workbook

Document = Mapping[str, Any]
Row = dict[str, Any]

_CELLS: Final = (("right", "warm"), ("left", "warm"), ("right", "cool"), ("left", "cool"))
_NOT_IN_WIDE: Final = ("irrigations", "reported")
_OF_CELL: Final = (
    "peak_spv",
    "fixation_spv",
    "pre_fixation_spv",
    "measured_temperature_c",
    "duration_s",
    "started_at",
    "order_in_visit",
    "repeat_reason",
)
# A zip file cannot say an earlier time than this one; any fixed time gives the same bytes.
_ZIP_TIME: Final = (1980, 1, 1, 0, 0, 0)


def ndjson(documents: Iterable[Document]) -> bytes:
    encode = json.JSONEncoder(separators=(",", ":"), check_circular=False).encode
    return "".join(encode(document) + "\n" for document in documents).encode("ascii")


def ndjson_gz(documents: Iterable[Document]) -> bytes:
    return gzip.compress(ndjson(documents), compresslevel=6, mtime=0)


def long_csv(documents: Iterable[Document]) -> bytes:
    """Commas and decimal points; the visit's own fields stand on each of its rows."""
    rows: list[Row] = []
    for document in documents:
        visit = _flat(document, leave_out=("irrigations",))
        rows += [visit | _flat(irrigation) for irrigation in document["irrigations"]]
    return _csv(rows, delimiter=",", decimal_comma=False)


def wide_csv(documents: Iterable[Document]) -> bytes:
    """Semicolons, decimal commas and a byte order mark, as many spreadsheets write it."""
    rows = [wide_row(document) for document in documents]
    return b"\xef\xbb\xbf" + _csv(rows, delimiter=";", decimal_comma=True)


def wide_row(document: Document) -> Row:
    """The last attempt of each of the four cells; earlier ones are only counted."""
    row = _flat(document, leave_out=_NOT_IN_WIDE)
    for ear, stimulus in _CELLS:
        attempts = [
            i for i in document["irrigations"] if (i["ear"], i["stimulus"]) == (ear, stimulus)
        ]
        if not attempts or "peak_spv" not in attempts[-1]:
            continue
        last, cell = attempts[-1], f"{ear}_{stimulus}"
        row[f"{stimulus}_temperature_c"] = last["set_temperature_c"]
        row |= {f"{cell}.{name}": last[name] for name in _OF_CELL if name in last}
        if len(attempts) > 1:
            row[f"{cell}.earlier_attempts_not_sent"] = len(attempts) - 1
    return row


def wide_xlsx(documents: Iterable[Document]) -> bytes:
    """One sheet, a header row; the same bytes whenever it is written."""
    rows = [wide_row(document) for document in documents]
    columns = _columns(rows)
    book = Workbook(write_only=True)
    sheet = book.create_sheet("results")
    sheet.append(columns)
    for row in rows:
        sheet.append([row.get(column) for column in columns])
    written = io.BytesIO()
    book.save(written)
    return _without_clock(written.getvalue())


def _without_clock(content: bytes) -> bytes:
    """Write a spreadsheet again without the time at which it was made."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in sorted(old.namelist()):
            part = old.read(name)
            if name == "docProps/core.xml":
                part = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", b"2000-01-01T00:00:00Z", part)
            info = zipfile.ZipInfo(name, _ZIP_TIME)
            info.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(info, part)
    return out.getvalue()


def _flat(document: Document, leave_out: Sequence[str] = ()) -> Row:
    """Nested names joined by a dot; a list of one reason becomes that reason."""
    row: Row = {}
    for name, value in document.items():
        if name in leave_out:
            continue
        if isinstance(value, dict):
            row |= {f"{name}.{inner}": v for inner, v in value.items()}
        else:
            row[name] = ",".join(value) if isinstance(value, list) else value
    return row


def _columns(rows: Iterable[Row]) -> list[str]:
    return list(dict.fromkeys(column for row in rows for column in row))


def _csv(rows: list[Row], *, delimiter: str, decimal_comma: bool) -> bytes:
    columns = _columns(rows)
    text = io.StringIO()
    writer = csv.writer(text, delimiter=delimiter, lineterminator="\r\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow([_written(row.get(column), decimal_comma) for column in columns])
    return text.getvalue().encode("utf-8")


def _written(value: Any, decimal_comma: bool) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float) and decimal_comma:
        return str(value).replace(".", ",")
    return str(value)
