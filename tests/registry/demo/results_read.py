"""The generated files read back by the plainest means, so that the tests see what was sent."""

from __future__ import annotations

import csv
import gzip
import io
import json
from typing import Any

import numpy as np
import openpyxl

from registry.demo import DemoFile

CELLS = ("right_warm", "left_warm", "right_cool", "left_cool")
OF_IRRIGATION = (
    "ear",
    "stimulus",
    "attempt",
    "order_in_visit",
    "started_at",
    "set_temperature_c",
    "measured_temperature_c",
    "duration_s",
    "peak_spv",
    "unusable_reason",
    "repeat_reason",
)
BEATS_RIGHT = ("right_warm", "left_cool", "left_ice")


def documents(file: DemoFile) -> list[dict[str, Any]]:
    """The visits of a file, in the shape of one JSON object each."""
    if file.name.endswith(".gz"):
        return [json.loads(line) for line in gzip.decompress(file.content).splitlines()]
    if file.name.endswith(".ndjson"):
        return [json.loads(line) for line in file.content.splitlines()]
    if file.name.endswith(".xlsx"):
        rows = openpyxl.load_workbook(io.BytesIO(file.content)).active.values
        header = next(rows)
        return _from_wide([dict(zip(header, row, strict=True)) for row in rows])
    text = file.content.decode("utf-8-sig")
    semicolons = ";" in text.splitlines()[0]
    table = list(csv.DictReader(io.StringIO(text), delimiter=";" if semicolons else ","))
    return _from_wide(table) if semicolons else _from_long(table)


def _number(value: Any) -> float | None:
    return None if value in (None, "") else float(str(value).replace(",", "."))


def _visit(row: dict[str, Any]) -> dict[str, Any]:
    visit = {
        k: v
        for k, v in row.items()
        if "." not in k and k not in OF_IRRIGATION and v not in (None, "")
    }
    spontaneous = _number(row.get("spontaneous.spv"))
    if spontaneous is not None:
        visit["spontaneous"] = {"spv": spontaneous}
    return visit | {"irrigations": []}


def _from_wide(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    visits = []
    for row in rows:
        visit = _visit(row)
        for cell in CELLS:
            if (peak := _number(row.get(f"{cell}.peak_spv"))) is not None:
                ear, stimulus = cell.split("_")
                visit["irrigations"].append(
                    {
                        "ear": ear,
                        "stimulus": stimulus,
                        "attempt": 1
                        + int(_number(row.get(f"{cell}.earlier_attempts_not_sent")) or 0),
                        "set_temperature_c": _number(row[f"{stimulus}_temperature_c"]),
                        "peak_spv": peak,
                    }
                )
        visits.append(visit)
    return visits


def _from_long(rows: list[dict[str, str]]) -> list[dict[str, Any]]:
    visits: dict[str, dict[str, Any]] = {}
    for row in rows:
        visit = visits.setdefault(row["visit_ref"], _visit(row))
        irrigation = {k: row[k] for k in OF_IRRIGATION if row.get(k)}
        irrigation["attempt"] = int(row["attempt"])
        irrigation["usable"] = row.get("usable") != "false"
        for name in ("peak_spv", "set_temperature_c", "measured_temperature_c", "duration_s"):
            if (value := _number(row.get(name))) is not None:
                irrigation[name] = value
        visit["irrigations"].append(irrigation)
    return list(visits.values())


def peaks(visit: dict[str, Any]) -> dict[str, float]:
    """The last usable peak of each cell, positive as expected by its label, in deg/s."""
    found = {}
    for irrigation in visit["irrigations"]:
        cell = f"{irrigation['ear']}_{irrigation['stimulus']}"
        if irrigation.get("usable", True) and "peak_spv" in irrigation:
            sign = 1.0 if cell in BEATS_RIGHT else -1.0
            convention = visit["sign_convention"]
            if convention == "expected_positive":
                sign = 1.0
            elif convention == "slow_phase_right_positive":
                sign = -sign
            found[cell] = sign * irrigation["peak_spv"]
    return found


def four_peaks(visits: list[dict[str, Any]]) -> np.ndarray:
    """Peaks of the complete visits: shape (visits, 4), in the order of ``CELLS``."""
    found = [peaks(visit) for visit in visits]
    return np.array([[p[c] for c in CELLS] for p in found if all(c in p for c in CELLS)])
