"""Invented visits, and the same visit written as each kind of file."""

from __future__ import annotations

import copy
import csv
import gzip
import io
import json
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

import openpyxl

from registry.caloric.visit import Visit
from registry.intake.checks import Fault, KnownCodes, check_visit
from registry.intake.readers import ReadLimits, Record, read_visits

TODAY = date(2026, 6, 1)
DIRECTORY = KnownCodes(
    testers=frozenset({"T-07", "T-08"}),
    irrigators=frozenset({"IR-2", "IR-3"}),
    recorders=frozenset({"RC-1"}),
)
LIMITS = ReadLimits()

_CELLS = (
    ("right", "warm", 44.0, 31.2),
    ("left", "warm", 44.0, 24.4),
    ("right", "cool", 30.0, 22.6),
    ("left", "cool", 30.0, 19.8),
)


def a_visit(**changes: Any) -> dict[str, Any]:
    """A whole visit as JSON has it; ``None`` takes a field out."""
    visit: dict[str, Any] = {
        "visit_ref": "V-KQMPX",
        "subject_ref": "S-HTKQB",
        "visit_date": "2026-03-02",
        "age_years": 54,
        "sex": "female",
        "tester": "T-07",
        "irrigator": "IR-2",
        "recorder": "RC-1",
        "medium": "water_open",
        "head_elevation_deg": 30,
        "spontaneous": {"spv": 1.5, "kind": "steady_horizontal", "handling": "not_removed"},
        "otoscopy": {"right": "clear", "left": "wax_removed_today"},
        "irrigations": [
            {
                "ear": ear,
                "stimulus": stimulus,
                "order_in_visit": place,
                "started_at": f"2026-03-02T09:{10 + 6 * place}:00+00:00",
                "set_temperature_c": temperature,
                "duration_s": 30,
                "peak_spv": peak,
                "fixation_spv": 4.5,
            }
            for place, (ear, stimulus, temperature, peak) in enumerate(_CELLS, 1)
        ],
        "reported": {"unilateral_weakness_percent": 9.8, "lower_side": "left"},
    }
    visit |= changes
    return {name: value for name, value in visit.items() if value is not None}


def with_irrigation(position: int, **changes: Any) -> dict[str, Any]:
    """A whole visit with one irrigation changed; ``None`` takes a field out."""
    visit = a_visit()
    visit["irrigations"][position] |= changes
    visit["irrigations"][position] = {
        name: value for name, value in visit["irrigations"][position].items() if value is not None
    }
    return visit


def with_repeat(**changes: Any) -> dict[str, Any]:
    """A whole visit with a fifth irrigation: the right-warm cell again, changed as said."""
    visit = a_visit()
    repeat = copy.deepcopy(visit["irrigations"][0])
    repeat |= {"attempt": 2, "order_in_visit": 5, "started_at": "2026-03-02T09:50:00Z"} | changes
    visit["irrigations"].append(repeat)
    return visit


def check(data: object, **options: Any) -> tuple[Visit | None, list[Fault]]:
    asked: dict[str, Any] = {"directory": DIRECTORY, "today": TODAY, **options}
    return check_visit(data, **asked)


def faults_of(data: object, **options: Any) -> list[tuple[str, str]]:
    """Pointer and code of every fault; a refused visit is never given back as well."""
    visit, faults = check(data, **options)
    assert (visit is None) == bool(faults)
    return [(fault.pointer, fault.code) for fault in faults]


def read(content: bytes, limits: ReadLimits = LIMITS, **options: Any) -> list[Record]:
    return list(read_visits(io.BytesIO(content), limits=limits, **options))


def long_rows(*visits: dict[str, Any]) -> list[dict[str, Any]]:
    """The rows of the long table: the visit's fields on each, the irrigation's own."""
    rows = []
    for visit in visits:
        own = _flat({name: value for name, value in visit.items() if name != "irrigations"})
        for irrigation in visit["irrigations"]:
            shared = ("tester", "irrigator", "medium")
            rows.append(
                own
                | {
                    f"irrigation.{name}" if name in shared else name: value
                    for name, value in irrigation.items()
                }
            )
    return rows


def wide_rows(*visits: dict[str, Any]) -> list[dict[str, Any]]:
    """The rows of the wide table: one a visit."""
    rows = []
    for visit in visits:
        row = _flat({name: value for name, value in visit.items() if name != "irrigations"})
        for cell in ("right_warm", "left_warm", "right_cool", "left_cool"):
            row[f"{cell}.peak_spv"] = None
        for irrigation in visit["irrigations"]:
            cell = f"{irrigation['ear']}_{irrigation['stimulus']}"
            row |= {
                f"{cell}.{name}": value
                for name, value in irrigation.items()
                if name not in ("ear", "stimulus", "attempt")
            }
        rows.append(row)
    return rows


def csv_of(
    rows: Sequence[dict[str, Any]],
    separator: str = ",",
    decimal: str = ".",
    encoding: str = "utf-8",
) -> bytes:
    header = header_of(rows)
    text = io.StringIO()
    writer = csv.writer(text, delimiter=separator)
    writer.writerow(header)
    for row in rows:
        writer.writerow([_cell_text(row.get(name), decimal) for name in header])
    return text.getvalue().encode(encoding)


def xlsx_of(rows: Sequence[dict[str, Any]], title: str = "results") -> bytes:
    header = header_of(rows)
    return sheet_of([header, *([_cell(row.get(name)) for name in header] for row in rows)], title)


def sheet_of(rows: Iterable[Sequence[Any]], title: str = "results") -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = title
    for row in rows:
        sheet.append(list(row))
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def ndjson_of(*visits: dict[str, Any]) -> bytes:
    return b"".join(json.dumps(visit).encode() + b"\n" for visit in visits)


def header_of(rows: Sequence[dict[str, Any]]) -> list[str]:
    return list(dict.fromkeys(name for row in rows for name in row))


def packed(content: bytes) -> bytes:
    return gzip.compress(content, mtime=0)


def _flat(values: dict[str, Any]) -> dict[str, Any]:
    flat: dict[str, Any] = {}
    for name, value in values.items():
        if isinstance(value, dict):
            flat |= {f"{name}.{member}": one for member, one in value.items()}
        else:
            flat[name] = value
    return flat


def _cell(value: Any) -> Any:
    return "|".join(value) if isinstance(value, list) else value


def _cell_text(value: Any, decimal: str) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return repr(value).replace(".", decimal)
    return str(_cell(value))
