"""One way to write a visit: there and back again, and equal digests for equal content."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.caloric.visit import Visit
from registry.intake.checks import AnyCode, check_visit, content_digest, visit_to_json
from registry.intake.fields import GROUPS, IRRIGATION_FIELDS, VISIT_FIELDS, Field
from registry.intake.readers import parse_json
from tests.registry.intake.visits import TODAY, a_visit, check, ndjson_of, read, with_irrigation

DAY = date(2026, 3, 2)
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
# What the rules between fields tie together is put in by hand below.
TIED = {
    "visit_date",
    "attempt",
    "order_in_visit",
    "started_at",
    "set_temperature_c",
    "ear",
    "stimulus",
    "peak_spv",
    "beat_direction",
    "fixation_from_s",
    "fixation_to_s",
    "usable",
    "unusable_reason",
    "counts",
    "sign_convention",
    "handling",
}


def values_of(field: Field) -> st.SearchStrategy[Any]:
    if field.kind == "word":
        return st.sampled_from(field.words)
    if field.kind == "number":
        return st.floats(field.low, field.high) | st.integers(int(field.low or 0), 60)
    if field.kind == "whole":
        return st.integers(int(field.low or 0), int(field.high or 0))
    return st.sampled_from(["V-KQMPX", "T-07", "IR-2", "K.7_x"])


def members_of(fields: tuple[Field, ...]) -> st.SearchStrategy[dict[str, Any]]:
    free = [field for field in fields if field.name not in TIED]
    return st.fixed_dictionaries(
        {field.name: values_of(field) for field in free if field.needed},
        optional={field.name: values_of(field) for field in free if not field.needed},
    )


BEATS = st.lists(
    st.tuples(st.floats(0, 600), st.floats(-300, 300)),
    min_size=1,
    max_size=5,
    unique_by=lambda beat: beat[0],
).map(
    lambda beats: {
        "time_s": [time for time, _ in sorted(beats)],
        "spv": [speed for _, speed in sorted(beats)],
    }
)


@st.composite
def visits(draw: st.DrawFn) -> dict[str, Any]:
    """Any visit a clinic may send, with fields left out at random."""
    visit = draw(members_of(VISIT_FIELDS)) | {"visit_date": DAY.isoformat()}
    for group, fields in GROUPS.items():
        if draw(st.booleans()):
            visit[group] = draw(members_of(fields))
    cells = draw(
        st.lists(
            st.sampled_from(
                [(ear, what) for ear in ("right", "left") for what in ("warm", "cool")]
            ),
            min_size=1,
            max_size=6,
        )
    )
    visit["irrigations"] = []
    for position, cell in enumerate(cells):
        one = draw(members_of(IRRIGATION_FIELDS)) | {
            "ear": cell[0],
            "stimulus": cell[1],
            "attempt": cells[: position + 1].count(cell),
            "set_temperature_c": 44.5 if cell[1] == "warm" else 30,
            "peak_spv": draw(st.floats(-200, 200)),
        }
        if draw(st.booleans()):
            one["order_in_visit"] = position + 1
            one["started_at"] = (NOON + timedelta(minutes=6 * position)).isoformat()
        if draw(st.booleans()):
            one["beats"] = draw(BEATS)
        if one.get("peak_basis") == "computed_v1":
            # What the registry computed is computed again, so it is no part of what was sent.
            del one["peak_basis"]
        visit["irrigations"].append(one)
    return visit


def checked(data: object) -> Visit:
    visit, faults = check_visit(data, directory=AnyCode(), today=TODAY)
    assert faults == []
    assert visit is not None
    return visit


@settings(max_examples=150, deadline=None)
@given(visits())
def test_a_visit_written_down_and_checked_again_is_the_same_visit(data: dict[str, Any]) -> None:
    visit = checked(data)

    again = checked(parse_json(json.dumps(visit_to_json(visit)).encode()))

    assert again == visit
    assert content_digest(again) == content_digest(visit)


@settings(max_examples=60, deadline=None)
@given(visits(), st.randoms(use_true_random=False))
def test_the_digest_is_blind_to_order_and_to_how_numbers_are_written(
    data: dict[str, Any], source: Any
) -> None:
    digest = content_digest(checked(data))
    source.shuffle(data["irrigations"])
    shuffled = {name: data[name] for name in sorted(data)}
    for one in shuffled["irrigations"]:
        if float(one["set_temperature_c"]).is_integer():
            one["set_temperature_c"] = float(one["set_temperature_c"])

    assert content_digest(checked(shuffled)) == digest


@pytest.mark.parametrize(
    "change",
    [
        {"peak_spv": 31.3},
        {"peak_spv": 31.200000000000003},
        {"ear": "left", "attempt": 2},
        {"fixation_spv": None},
        {"order_in_visit": None},
        {"started_at": "2026-03-02T09:16:01Z"},
    ],
)
def test_the_digest_sees_the_smallest_change(change: dict[str, Any]) -> None:
    before, after = check(a_visit())[0], check(with_irrigation(0, **change))[0]
    assert before is not None
    assert after is not None

    assert content_digest(before) != content_digest(after)


def test_a_stored_digest_stays_what_it_is() -> None:
    """Digests are kept for years, so the bytes they are made of are written out here once."""
    visit, _ = check(
        {
            "visit_ref": "V-KQMPX",
            "subject_ref": "S-HTKQB",
            "visit_date": "2026-03-02",
            "age_years": 93,
            "tester": "T-07",
            "irrigator": "IR-2",
            "medium": "air",
            "irrigations": [
                {"ear": "right", "stimulus": "warm", "set_temperature_c": 50, "peak_spv": 31.2}
            ],
        }
    )
    assert visit is not None
    text = (
        '{"age_years":90,"irrigations":[{"attempt":1,"ear":"right","peak_spv":31.2,'
        '"set_temperature_c":50.0,"stimulus":"warm","usable":true}],"irrigator":"IR-2",'
        '"medium":"air","sign_convention":"expected_positive","subject_ref":"S-HTKQB",'
        '"tester":"T-07","visit_date":"2026-03-02","visit_ref":"V-KQMPX"}'
    )

    assert content_digest(visit) == hashlib.sha256(text.encode()).digest()


def test_a_negative_zero_is_zero() -> None:
    one, other = (
        check(with_irrigation(0, peak_spv=-0.0))[0],
        check(with_irrigation(0, peak_spv=0))[0],
    )
    assert one is not None
    assert other is not None

    assert content_digest(one) == content_digest(other)


def test_what_is_absent_is_left_out_and_times_are_in_utc() -> None:
    visit, _ = check(with_irrigation(0, started_at="2026-03-02T11:16:00+02:00"))
    assert visit is not None

    written = visit_to_json(visit)

    assert "recording" not in written
    assert "from_clinic_default" not in written
    assert "unusable_reason" not in written["irrigations"][0]
    assert written["irrigations"][0]["started_at"] == "2026-03-02T09:16:00Z"
    assert written["visit_date"] == "2026-03-02"
    assert read(ndjson_of(written))[0].data == written


def test_a_default_is_written_but_does_not_count_as_sent() -> None:
    visit, _ = check(a_visit(sex=None), defaults={"sex": "unknown"})
    assert visit is not None

    assert visit_to_json(visit)["sex"] == "unknown"
    assert content_digest(visit) != content_digest(replace(visit, from_clinic_default=()))
