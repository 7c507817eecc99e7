"""Whatever is wrong with a file or a row of it is refused, with its place and a reason.

Sources: RFC 8259 section 4 (names within an object should be unique), section 6 (no NaN, no
Infinity) and section 8.1 (UTF-8); RFC 1952 (gzip).
"""

from __future__ import annotations

import gzip
import io
import json
import zipfile
from typing import Any

import pytest

from registry.intake.checks import Fault, merge_faults
from registry.intake.readers import FileRefused, NotJson, ReadLimits, Record, parse_json
from tests.registry.intake.visits import (
    LIMITS,
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
    xlsx_of,
)


def refusal(content: bytes, limits: ReadLimits = LIMITS, **options: Any) -> tuple[Any, ...]:
    with pytest.raises(FileRefused) as refused:
        read(content, limits, **options)
    return refused.value.code, refused.value.row, refused.value.column


def all_faults(record: Record) -> list[tuple[str, str, int, str | None]]:
    """Every fault of a record with its place, as an upload reports them."""
    faults = merge_faults(record.faults, check(record.data)[1])
    return [(fault.pointer, fault.code, *record.place_of(fault.pointer)) for fault in faults]


# The file as a whole


@pytest.mark.parametrize("content", [b"", b"  \n\n", b"\xef\xbb\xbf", b"\xef\xbb\xbf \r\n"])
def test_an_empty_file_is_refused(content: bytes) -> None:
    assert refusal(content)[0] == "file_empty"
    assert refusal(packed(content))[0] == "file_empty"


def test_a_table_with_a_header_alone_is_empty() -> None:
    header = csv_of(long_rows(a_visit())).partition(b"\r\n")[0]

    assert refusal(header + b"\r\n")[0] == "file_empty"


def test_a_file_over_the_limit_is_refused() -> None:
    content = ndjson_of(a_visit())

    assert len(read(content, ReadLimits(file=len(content)))) == 1
    assert refusal(content, ReadLimits(file=len(content) - 1))[0] == "file_too_large"


def test_a_gzip_bomb_is_refused_while_it_unpacks() -> None:
    bomb = gzip.compress(b" " * 5_000_000 + ndjson_of(a_visit()))
    assert len(bomb) < 10_000

    assert refusal(bomb, ReadLimits(unpacked=1_000_000, line=10_000_000))[0] == "unpacked_too_large"


def test_a_zip_bomb_is_refused_by_its_directory() -> None:
    bomb = with_part(xlsx_of(long_rows(a_visit())), "xl/media/x.bin", b"\0" * 3_000_000)
    assert len(bomb) < 20_000

    assert refusal(bomb, ReadLimits(workbook=1_000_000))[0] == "unpacked_too_large"


def test_the_directory_of_a_workbook_is_asked_before_anything_is_unpacked() -> None:
    bomb = with_part(xlsx_of(long_rows(a_visit())), "xl/media/x.bin", b"\0" * 3_000_000)
    start = bomb.index(b"xl/media/x.bin") + len("xl/media/x.bin")

    broken = bomb[:start] + b"\xff" * 50 + bomb[start + 50 :]

    assert refusal(broken)[0] == "not_readable"
    assert refusal(broken, ReadLimits(workbook=1_000_000))[0] == "unpacked_too_large"


def test_a_zip_bomb_whose_directory_lies_is_refused() -> None:
    bomb = with_part(xlsx_of(long_rows(a_visit())), "xl/media/x.bin", b"\0" * 3_000_000)
    size = (3_000_000).to_bytes(4, "little")
    assert bomb.count(size) == 2

    lying = bomb.replace(size, (10).to_bytes(4, "little"))

    assert refusal(lying, ReadLimits(workbook=1_000_000))[0] in (
        "not_readable",
        "unpacked_too_large",
    )


def test_a_workbook_with_xml_entities_is_refused() -> None:
    """Entities that name each other grow a small XML file without bound."""
    part = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aa"><!ENTITY b "&a;&a;">]><x>&b;</x>'

    assert refusal(with_part(xlsx_of(long_rows(a_visit())), "xl/x.xml", part))[0] == "not_readable"


@pytest.mark.parametrize(
    "content",
    [
        b"PK\x03\x04 and then nothing of a workbook",
        b"\x1f\x8b\x08\x00 and then nothing of gzip",
        packed(ndjson_of(a_visit()))[:-20],
        xlsx_of(long_rows(a_visit()))[:-300],
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 an older workbook",
        packed(packed(ndjson_of(a_visit()))),
    ],
)
def test_a_broken_or_unknown_file_is_refused(content: bytes) -> None:
    assert refusal(content)[0] == "not_readable"


def test_a_zip_file_that_is_no_workbook_is_refused() -> None:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("visits.csv", "visit_ref")

    assert refusal(file.getvalue())[0] == "not_readable"


def test_a_file_with_more_rows_than_allowed_is_refused_at_the_first_too_many() -> None:
    visits = [a_visit(visit_ref=f"V-K{number}") for number in range(3)]

    for content in (csv_of(wide_rows(*visits)), xlsx_of(wide_rows(*visits)), ndjson_of(*visits)):
        assert len(read(content, ReadLimits(rows=3))) == 3
        assert refusal(content, ReadLimits(rows=2))[0] == "too_many_rows"


def test_a_line_longer_than_allowed_is_refused() -> None:
    content = ndjson_of(a_visit(), a_visit() | {"x": "y" * 5_000})

    assert refusal(content, ReadLimits(line=4_000)) == ("line_too_long", 2, None)
    assert refusal(b"visit_ref," + b"x" * 5_000, ReadLimits(line=4_000))[0] == "line_too_long"


def test_a_cell_that_swallows_the_file_is_refused() -> None:
    header = csv_of(long_rows(a_visit())).partition(b"\r\n")[0]

    assert refusal(header + b'\r\n"V-K' + b"x\n" * 100_000)[0] == "line_too_long"
    assert refusal(header + b'\r\n"V-K,\r\n')[:2] == ("not_readable", 2)


# The encoding


def test_a_csv_in_latin_1_is_refused_with_the_row() -> None:
    rows = long_rows(a_visit(), a_visit(visit_ref="V-HÄTKQ"))

    assert refusal(csv_of(rows, encoding="latin-1")) == ("not_utf8", 6, None)


def test_a_csv_in_utf_16_is_refused() -> None:
    assert refusal(csv_of(long_rows(a_visit()), encoding="utf-16"))[:2] == ("not_utf8", 1)


# The header


def test_an_unknown_column_refuses_the_file_by_position_and_is_never_named() -> None:
    rows = [row | {"Patient name": "Jo"} for row in long_rows(a_visit())]
    position = len(rows[0])

    for content in (csv_of(rows), csv_of(rows, ";"), xlsx_of(rows)):
        with pytest.raises(FileRefused) as refused:
            read(content)
        assert (refused.value.code, refused.value.column) == ("unknown_column", position)
        assert "atient" not in repr(refused.value) + str(refused.value)


def test_beats_have_no_column() -> None:
    rows = [row | {"beats": "1 2 3"} for row in long_rows(a_visit())]

    assert refusal(csv_of(rows))[0] == "unknown_column"


@pytest.mark.parametrize("name", ["visit_ref", "tester", "ear", "peak_spv"])
def test_a_needed_column_may_not_be_missing(name: str) -> None:
    rows = [{k: v for k, v in row.items() if k != name} for row in long_rows(a_visit())]

    assert refusal(csv_of(rows)) == ("missing_column", 1, name)


def test_every_cell_of_the_wide_table_needs_its_peak_column() -> None:
    row = wide_rows(a_visit())[0]
    del row["left_cool.peak_spv"]

    assert refusal(csv_of([row])) == ("missing_column", 1, "left_cool.peak_spv")


def test_a_column_the_clinic_has_a_default_for_may_be_missing() -> None:
    rows = [{k: v for k, v in row.items() if k != "medium"} for row in long_rows(a_visit())]

    assert refusal(csv_of(rows))[0] == "missing_column"
    [record] = read(csv_of(rows), defaulted={"medium"})
    assert check(record.data, defaults={"medium": "air"})[1] == []


def test_a_column_may_not_come_twice() -> None:
    text = csv_of(long_rows(a_visit())).replace(b",sex,", b",tester,", 1)

    assert refusal(text)[0] == "duplicate_column"


def test_a_header_may_not_mix_the_two_tables() -> None:
    rows = [row | {"left_warm.peak_spv": 3} for row in long_rows(a_visit())]

    assert refusal(csv_of(rows)) == ("mixed_shapes", 1, None)


@pytest.mark.parametrize("content", [b"V-KQMPX,S-HTKQB,54\n", b"[1, 2]\n", b"\n\nvisit_ref\n"])
def test_a_first_row_that_names_no_column_is_no_header(content: bytes) -> None:
    assert refusal(content) == ("header_missing", 1, None)


# The cells


def test_a_formula_refuses_the_workbook_with_its_place() -> None:
    rows = long_rows(a_visit())
    header = header_of(rows)
    body = [[row.get(name) for name in header] for row in rows]
    body[2][3] = "=1+53"

    assert refusal(sheet_of([header, *body])) == ("formula_not_allowed", 4, 4)


def test_a_formula_in_csv_is_a_fault_of_its_row_alone() -> None:
    rows = wide_rows(a_visit(), a_visit(visit_ref="V-HTKQB"))
    rows[0]["age_years"] = "=1+53"

    first, second = read(csv_of(rows))

    assert all_faults(first) == [("/age_years", "formula_in_cell", 2, "age_years")]
    assert all_faults(second) == []


def test_an_error_of_the_spreadsheet_is_a_fault_of_its_cell() -> None:
    rows = wide_rows(a_visit())
    rows[0]["right_warm.peak_spv"] = "#N/A"

    [record] = read(xlsx_of(rows))

    assert all_faults(record) == [
        ("/irrigations/0/peak_spv", "error_in_cell", 2, "right_warm.peak_spv")
    ]


@pytest.mark.parametrize(
    "text", ["31,2", "1.234,5", "abc", "NaN", "inf", "1e999", "0x1F", "٣", "--1"]
)
def test_what_is_no_number_is_refused_in_its_cell(text: str) -> None:
    rows = wide_rows(a_visit())
    rows[0]["right_warm.peak_spv"] = text

    [record] = read(csv_of(rows))

    assert all_faults(record) == [
        ("/irrigations/0/peak_spv", "not_a_number", 2, "right_warm.peak_spv")
    ]


def test_a_decimal_comma_is_read_only_where_semicolons_separate() -> None:
    rows = [row | {"peak_spv": "31,2"} for row in long_rows(a_visit())]

    [with_commas] = read(csv_of(rows))
    [with_semicolons] = read(csv_of(rows, ";"))

    assert with_commas.data["irrigations"][0]["peak_spv"] == "31,2"
    assert with_semicolons.data["irrigations"][0]["peak_spv"] == 31.2


def test_a_day_in_another_order_is_not_guessed() -> None:
    rows = [row | {"visit_date": "02/03/2026"} for row in wide_rows(a_visit())]

    [record] = read(csv_of(rows))

    assert all_faults(record) == [("/visit_date", "not_a_date", 2, "visit_date")]


def test_a_missing_value_is_reported_in_its_column() -> None:
    rows = long_rows(a_visit())
    rows[2]["peak_spv"] = None
    rows = [row | {"subject_ref": None} for row in rows]

    [record] = read(csv_of(rows))

    assert all_faults(record) == [
        ("/subject_ref", "required", 2, "subject_ref"),
        ("/irrigations/2/peak_spv", "peak_needed", 4, "peak_spv"),
    ]


def test_a_row_wider_than_its_header_is_refused() -> None:
    lines = csv_of(wide_rows(a_visit(), a_visit(visit_ref="V-HTKQB"))).split(b"\r\n")
    lines[2] += b",5"

    first, second = read(b"\r\n".join(lines))

    assert all_faults(first) == []
    assert all_faults(second) == [("", "row_too_wide", 3, None)]


def test_rows_of_one_visit_that_contradict_each_other_are_refused_where_they_do() -> None:
    rows = long_rows(a_visit())
    rows[2]["tester"] = "T-08"

    [record] = read(csv_of(rows))

    assert all_faults(record) == [("/tester", "visit_fields_differ", 4, "tester")]


def test_a_visit_that_comes_back_later_in_the_file_is_refused_there() -> None:
    rows = long_rows(a_visit(), a_visit(visit_ref="V-HTKQB"))

    records = read(csv_of([*rows[:3], *rows[4:], rows[3]]))

    assert [all_faults(record) for record in records] == [
        [],
        [],
        [("/visit_ref", "visit_rows_not_together", 9, "visit_ref")],
    ]


def test_rows_without_a_visit_ref_are_visits_of_their_own() -> None:
    rows = [row | {"visit_ref": None} for row in long_rows(a_visit())]

    records = read(csv_of(rows))

    assert len(records) == 4
    assert all_faults(records[3])[0] == ("/visit_ref", "required", 5, "visit_ref")


def test_a_file_that_repeats_one_visit_without_end_stays_small() -> None:
    rows = long_rows(a_visit()) * 100

    [record] = read(csv_of(rows))

    assert len(record.data["irrigations"]) == 17
    assert all_faults(record) == [("/irrigations", "list_too_long", 2, None)]


# JSON


@pytest.mark.parametrize(
    ("text", "code"),
    [
        (b"{", "not_json"),
        (b'{"a": 1,}', "not_json"),
        (b"{'a': 1}", "not_json"),
        (b'{"a": 01}', "not_json"),
        (b'{"a": 1} {"a": 2}', "not_json"),
        (b"", "not_json"),
        (b'{"a": NaN}', "not_finite"),
        (b'{"a": [Infinity]}', "not_finite"),
        (b'{"a": -Infinity}', "not_finite"),
        (b'{"a": 1e999}', "number_too_large"),
        (b'{"a": 1' + b"0" * 400 + b".0}", "number_too_large"),
        (b'{"a": 1, "a": 2}', "duplicate_key"),
        (b'{"b": {"a": 1, "\\u0061": 2}}', "duplicate_key"),
        (b"[" * 32 + b"]" * 32, "too_deep"),
        (b"[" * 100_000, "too_deep"),
        (b'{"a": "\xe4"}', "not_utf8"),
        ('{"a": 1}'.encode("utf-16"), "not_utf8"),
    ],
)
def test_json_that_can_be_read_in_two_ways_or_none_is_refused(text: bytes, code: str) -> None:
    with pytest.raises(NotJson) as refused:
        parse_json(text)

    assert refused.value.code == code


@pytest.mark.parametrize(
    ("text", "value"),
    [
        (b'\xef\xbb\xbf{"a": 1}', {"a": 1}),
        (b"[" * 31 + b"]" * 31, json.loads("[" * 31 + "]" * 31)),
        (json.dumps(["[" * 40, {"{": '"[[' * 20}]).encode(), ["[" * 40, {"{": '"[[' * 20}]),
        (b"[" + b"[]," * 200 + b"[]]", [[]] * 201),
        (b"1e99", 1e99),
        (b'"\\u00e4"', "ä"),
    ],
)
def test_json_that_means_one_thing_is_read(text: bytes, value: object) -> None:
    assert parse_json(text) == value


def test_a_refused_json_text_is_not_repeated_by_the_error() -> None:
    with pytest.raises(NotJson) as refused:
        parse_json(b'{"visit_ref": "anna smith", }')

    assert "anna" not in repr(refused.value) + str(refused.value.__cause__)
    assert refused.value.__suppress_context__


@pytest.mark.parametrize(
    ("line", "code"),
    [
        (b"{broken", "not_json"),
        (b"[1, 2]", "not_an_object"),
        (b'"text"', "not_an_object"),
        (b'{"visit_ref": "\xe4"}', "not_utf8"),
        (b'{"a": NaN}', "not_finite"),
        (b'{"a": 1, "a": 1}', "duplicate_key"),
        (b'{"a":' * 40 + b"1" + b"}" * 40, "too_deep"),
        (b'{"a": 1e400}', "number_too_large"),
    ],
)
def test_a_line_that_is_no_visit_is_one_fault_and_the_others_go_on(line: bytes, code: str) -> None:
    content = ndjson_of(a_visit()) + b"\n" + line + b"\n" + ndjson_of(a_visit(visit_ref="V-HTKQB"))

    first, broken, last = read(content)

    assert (first.number, broken.number, last.number) == (1, 3, 4)
    assert all_faults(broken) == [("", code, 3, None)]
    assert all_faults(first) == all_faults(last) == []


def test_a_fault_of_the_reader_hides_its_own_echo_and_no_other_fault() -> None:
    by_reader = [Fault("/age_years", "formula_in_cell")]
    by_checks = [Fault("/age_years", "required"), Fault("/age", "required"), Fault("", "x")]

    assert merge_faults(by_reader, by_checks) == [by_reader[0], *by_checks[1:]]
    assert merge_faults([Fault("", "not_json")], by_checks) == [Fault("", "not_json")]
    assert merge_faults([], by_checks) == by_checks


def with_part(workbook: bytes, name: str, part: bytes) -> bytes:
    file = io.BytesIO(workbook)
    with zipfile.ZipFile(file, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, part)
    return file.getvalue()
