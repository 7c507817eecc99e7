"""One visit, however it is written, is one visit: JSON lines, both tables, CSV and XLSX, packed.

Sources: RFC 4180 (CSV), RFC 8259 (JSON), RFC 1952 (gzip); the two tables are the registry's own.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import pytest

from registry.caloric.visit import Visit
from registry.intake.checks import content_digest
from registry.intake.readers import Record, long_header, table_schema, wide_header
from registry.intake.readers.columns import SHAPES
from tests.registry.intake.visits import (
    a_visit,
    check,
    csv_of,
    header_of,
    long_rows,
    ndjson_of,
    packed,
    read,
    sheet_of,
    wide_rows,
    with_irrigation,
    with_repeat,
    xlsx_of,
)

Write = Callable[[dict[str, Any]], bytes]

FORMATS: dict[str, Write] = {
    "json lines": lambda visit: ndjson_of(visit),
    "long csv": lambda visit: csv_of(long_rows(visit)),
    "long csv, semicolons": lambda visit: csv_of(long_rows(visit), ";"),
    "long csv, decimal comma": lambda visit: csv_of(long_rows(visit), ";", ","),
    "long csv, byte order mark": lambda visit: csv_of(long_rows(visit), encoding="utf-8-sig"),
    "long xlsx": lambda visit: xlsx_of(long_rows(visit)),
    "wide csv": lambda visit: csv_of(wide_rows(visit)),
    "wide csv, decimal comma": lambda visit: csv_of(wide_rows(visit), ";", ","),
    "wide xlsx": lambda visit: xlsx_of(wide_rows(visit)),
}


def the_visit(content: bytes) -> Visit:
    [record] = read(content)
    assert record.faults == []
    visit, faults = check(record.data)
    assert faults == []
    assert visit is not None
    return visit


@pytest.mark.parametrize("pack", [bytes, packed], ids=["plain", "gzip"])
@pytest.mark.parametrize("write", FORMATS.values(), ids=FORMATS)
def test_one_visit_is_the_same_in_every_format(write: Write, pack: Callable[..., bytes]) -> None:
    sent, _ = check(a_visit())
    assert sent is not None

    visit = the_visit(pack(write(a_visit())))

    assert visit == sent
    assert content_digest(visit) == content_digest(sent)


@pytest.mark.parametrize("name", [name for name in FORMATS if not name.startswith("wide")])
def test_a_repeat_with_all_its_fields_is_the_same_in_every_long_format(name: str) -> None:
    full = with_repeat(
        usable=False,
        unusable_reason=["eyes_closed", "recording_fault"],
        repeat_reason="weak_response",
        tester="T-08",
        medium="air",
        counts=False,
        volume_ml=8000.5,
        started_at="2026-03-02T09:50:00.125+00:00",
    )
    sent, _ = check(full)

    assert the_visit(FORMATS[name](full)) == sent


@pytest.mark.parametrize("cells", [(0, 1), (2, 3), (0, 3), (1,)])
def test_a_cell_without_a_peak_was_not_irrigated(cells: tuple[int, ...]) -> None:
    partial = a_visit()
    partial["irrigations"] = [partial["irrigations"][cell] for cell in cells]

    sent, _ = check(partial)

    assert the_visit(csv_of(wide_rows(partial))) == sent


def test_temperatures_filled_down_the_sheet_irrigate_no_cell() -> None:
    row = wide_rows(a_visit())[0] | {"left_cool.peak_spv": None, "left_cool.fixation_spv": None}

    [record] = read(csv_of([row]))

    assert [(one["ear"], one["stimulus"]) for one in record.data["irrigations"]] == [
        ("right", "warm"),
        ("left", "warm"),
        ("right", "cool"),
    ]


def test_a_cell_without_a_peak_that_is_not_usable_was_irrigated() -> None:
    row = wide_rows(a_visit())[0]
    row |= {f"left_warm.{name}": None for name in ("peak_spv", "fixation_spv")}
    row["left_warm.usable"] = False

    visit = the_visit(csv_of([row | {"left_warm.earlier_attempts_not_sent": 2}]))

    assert len(visit.irrigations) == 4
    assert visit.irrigations[1].usable is False
    assert visit.irrigations[1].earlier_attempts_not_sent == 2


def test_a_fixation_speed_without_its_peak_is_not_dropped_in_silence() -> None:
    row = wide_rows(a_visit())[0] | {"left_warm.peak_spv": None}

    [record] = read(csv_of([row]))
    _, faults = check(record.data)

    assert [(fault.pointer, fault.code) for fault in faults] == [
        ("/irrigations/1/peak_spv", "peak_needed")
    ]
    assert record.place_of(faults[0].pointer) == (2, "left_warm.peak_spv")


def test_one_temperature_serves_both_ears_unless_a_cell_has_its_own() -> None:
    row = {
        name: value
        for name, value in wide_rows(a_visit())[0].items()
        if not name.endswith("set_temperature_c")
    }
    row |= {"warm_temperature_c": 50, "cool_temperature_c": 24, "left_cool.set_temperature_c": 25}

    visit = the_visit(csv_of([row]))

    assert [one.set_temperature_c for one in visit.irrigations] == [50, 50, 24, 25]


def test_dates_and_times_of_a_spreadsheet_are_read_as_such() -> None:
    rows = long_rows(a_visit())
    for row in rows:
        row["visit_date"] = date(2026, 3, 2)
        row["started_at"] = datetime.fromisoformat(row["started_at"]).replace(tzinfo=None)

    [record] = read(xlsx_of(rows))
    visit, faults = check(record.data, zone=UTC)

    assert faults == []
    assert visit == check(a_visit())[0]


def test_a_code_of_digits_that_a_spreadsheet_took_for_a_number_stays_a_code() -> None:
    rows = [row | {"subject_ref": 41829} for row in long_rows(a_visit())]

    assert the_visit(xlsx_of(rows)).subject_ref == "41829"


def test_quoted_cells_may_hold_separators_and_line_ends() -> None:
    text = csv_of(long_rows(a_visit())).decode()
    header, _, rest = text.partition("\r\n")
    quoted = ",".join(f'"{name}\n"' for name in header.split(","))

    assert the_visit(f"{quoted}\r\n{rest}".encode()) == check(a_visit())[0]


def test_rows_are_counted_as_a_spreadsheet_does_whatever_the_quotes_hold() -> None:
    rows = long_rows(a_visit(), a_visit(visit_ref="V-HTKQB", sex="a\nb"))

    first, second = read(csv_of(rows))

    assert (first.number, second.number) == (1, 5)
    assert second.place_of("/sex") == (6, "sex")
    assert second.place_of("/irrigations/1/peak_spv") == (7, "peak_spv")


def test_true_and_false_are_read_as_spreadsheets_write_them() -> None:
    content = csv_of(long_rows(with_irrigation(0, usable=False))).replace(b",false", b",FALSE")

    assert the_visit(content).irrigations[0].usable is False


def test_columns_may_stand_in_any_order_and_blank_rows_are_passed_over() -> None:
    rows = long_rows(a_visit())
    backwards = [dict(reversed(row.items())) for row in rows]
    text = csv_of(backwards).decode().replace("\r\n", "\r\n" + "," * 5 + "\r\n")

    assert the_visit(text.encode()) == check(a_visit())[0]


def test_blank_cells_at_the_end_of_a_header_are_no_columns() -> None:
    rows = long_rows(a_visit())
    header = header_of(rows)
    body = [[row.get(name) for name in header] for row in rows]

    assert the_visit(sheet_of([[*header, "", None], *body])) == check(a_visit())[0]


def test_a_value_may_be_left_blank_on_the_further_rows_of_a_visit() -> None:
    rows = long_rows(a_visit())
    for row in rows[1:]:
        row["sex"] = None

    assert the_visit(csv_of(rows)).sex == "female"


def test_only_the_first_sheet_is_read() -> None:
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(xlsx_of(long_rows(a_visit()))))
    book.create_sheet("=notes").append(["=1+1", "a name"])
    file = io.BytesIO()
    book.save(file)

    assert the_visit(file.getvalue()) == check(a_visit())[0]


def test_many_visits_come_in_the_order_of_the_file() -> None:
    refs = [f"V-K{number}" for number in range(50)]
    visits = [a_visit(visit_ref=ref) for ref in refs]

    for content in (ndjson_of(*visits), csv_of(long_rows(*visits)), xlsx_of(wide_rows(*visits))):
        assert [record.data["visit_ref"] for record in read(content)] == refs


@pytest.mark.parametrize("header", [long_header(), wide_header()], ids=["long", "wide"])
def test_a_filled_template_is_read(header: list[str]) -> None:
    rows = long_rows(a_visit()) if "ear" in header else wide_rows(a_visit())
    file = io.StringIO()
    writer = csv.DictWriter(file, header)
    writer.writeheader()
    writer.writerows(rows)

    assert the_visit(file.getvalue().encode()) == check(a_visit())[0]


def test_the_published_schema_names_the_columns_of_the_templates_in_order() -> None:
    for shape in SHAPES:
        header = {"long": long_header, "wide": wide_header}[shape]()
        schema = table_schema(shape)

        assert [field["name"] for field in schema["fields"]] == header
        assert len(set(header)) == len(header)


def test_the_published_schema_has_only_what_a_table_schema_may_have() -> None:
    """Types and constraints of the Frictionless Table Schema, version 1."""
    types = {"string", "number", "integer", "boolean", "date", "datetime"}
    constraints = {"required", "enum", "minimum", "maximum", "pattern"}

    for shape in SHAPES:
        for field in table_schema(shape)["fields"]:
            assert field["type"] in types
            assert set(field["constraints"]) <= constraints
            assert field["description"].endswith(".")


def test_the_wide_template_has_the_columns_of_each_cell() -> None:
    header = wide_header()
    per_cell = [
        "peak_spv",
        "fixation_spv",
        "pre_fixation_spv",
        "set_temperature_c",
        "measured_temperature_c",
        "duration_s",
        "started_at",
        "order_in_visit",
        "usable",
        "earlier_attempts_not_sent",
        "repeat_reason",
    ]

    for cell in ("right_warm", "left_warm", "right_cool", "left_cool"):
        assert [name for name in header if name.startswith(cell)] == [
            f"{cell}.{name}" for name in per_cell
        ]
    assert {"warm_temperature_c", "cool_temperature_c", "spontaneous.spv"} <= set(header)
    assert "beats" not in header


def test_beats_come_by_json_lines() -> None:
    data = with_irrigation(0, beats={"time_s": [40, 41.5], "spv": [20.1, 22]})

    beats = the_visit(ndjson_of(data)).irrigations[0].beats

    assert beats is not None
    assert beats.spv == (20.1, 22.0)


def test_a_place_is_found_for_what_has_none_of_its_own() -> None:
    record = Record(3, {}, {"": (4, None), "/irrigations/0": (4, None), "/sex": (4, "sex")})

    assert record.place_of("/irrigations/0/peak_spv") == (4, None)
    assert record.place_of("/sex") == (4, "sex")
    assert record.place_of("/nowhere") == (4, None)
