"""Damaged files and arbitrary JSON: always a refusal or a fault, never another exception."""

from __future__ import annotations

import io
import json
import random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.intake.checks import DETAIL
from registry.intake.readers import FileRefused, ReadLimits, read_visits
from tests.registry.intake.visits import (
    a_visit,
    check,
    csv_of,
    long_rows,
    ndjson_of,
    packed,
    wide_rows,
    with_irrigation,
    xlsx_of,
)

SMALL = ReadLimits(file=200_000, unpacked=200_000, workbook=200_000, line=20_000, rows=100)
FILES = {
    "json lines": ndjson_of(a_visit(), a_visit(visit_ref="V-HTKQB")),
    "long csv": csv_of(long_rows(a_visit())),
    "wide csv": csv_of(wide_rows(a_visit()), ";", ","),
    "xlsx": xlsx_of(long_rows(a_visit())),
    "gzip": packed(ndjson_of(a_visit())),
}
ANY_JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=8)
    | st.sampled_from(["warm", "right", "2026-03-02", "2026-03-02T09:10:00Z", "T-07"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner),
    max_leaves=8,
)


@pytest.mark.parametrize("name", FILES)
def test_a_damaged_file_is_refused_or_its_faults_are_listed(name: str) -> None:
    source = random.Random(name)

    codes = {code for _ in range(80) for code in codes_of(damaged(FILES[name], source))}

    assert codes
    assert codes <= set(DETAIL)


def damaged(content: bytes, source: random.Random) -> bytes:
    """The file with some bytes changed, and half of the time cut off somewhere."""
    changed = bytearray(content)
    for _ in range(source.choice([1, 1, 3, 20])):
        changed[source.randrange(len(changed))] = source.randrange(256)
    return bytes(changed[: source.choice([len(changed), source.randrange(len(changed))])])


def codes_of(content: bytes) -> set[str]:
    """Codes of all that is wrong with a file, every one of them with a place."""
    codes = set()
    try:
        for record in read_visits(io.BytesIO(content), limits=SMALL):
            for fault in record.faults + check(record.data)[1]:
                assert record.place_of(fault.pointer)[0] >= 1
                codes.add(fault.code)
    except FileRefused as refusal:
        codes.add(refusal.code)
    return codes


@settings(max_examples=150, deadline=None)
@given(ANY_JSON)
def test_any_json_at_all_is_checked_without_an_exception(data: Any) -> None:
    visit, faults = check(data)

    assert visit is None
    assert faults


@settings(max_examples=200, deadline=None)
@given(ANY_JSON, st.randoms(use_true_random=False))
def test_a_visit_with_anything_in_any_place_gives_a_visit_or_faults(
    value: Any, source: random.Random
) -> None:
    data = with_irrigation(0, beats={"time_s": [40, 41], "spv": [20, 21]}, fixation_from_s=1)
    holder: Any = data
    while True:
        key = source.choice(list(holder) if isinstance(holder, dict) else range(len(holder)))
        if not isinstance(holder[key], (dict, list)) or source.random() < 0.3:
            break
        holder = holder[key]
    holder[key] = value

    visit, faults = check(data, defaults={"recording.method": "video", "irrigations.counts": False})

    assert (visit is None) == bool(faults)
    assert all(fault.code in DETAIL for fault in faults)


@settings(max_examples=100, deadline=None)
@given(st.dictionaries(st.text(min_size=1, max_size=30), st.text(max_size=30), min_size=1))
def test_no_fault_repeats_a_name_or_a_value_that_was_sent(members: dict[str, str]) -> None:
    marked = {f"secret{name}": f"secret {value}" for name, value in members.items()}
    data = a_visit(**{"visit_ref": "secret", **marked}, tester="secret name")
    data["irrigations"][0] |= marked | {"ear": "secret"}

    [record] = read_visits(io.BytesIO(json.dumps(data).encode()), limits=SMALL)
    _, faults = check(record.data)

    assert faults
    assert "secret" not in repr(faults) + repr(record.places)
