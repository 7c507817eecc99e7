"""A file of visits against the same visits one by one, in the same run; only the ratio counts."""

from __future__ import annotations

import io
import itertools
import json
import time
from typing import Any

import pytest

from registry.access.scope import clinic_scope
from registry.intake.submit import visit_submit
from registry.intake.uploads import upload_receive
from registry.models import Visit
from tests.conftest import NOW, TEST_ACTOR

pytestmark = [pytest.mark.django_db, pytest.mark.benchmark]

IN_A_FILE, ONE_BY_ONE = 3_000, 100
LETTERS = "BCDFGHJKLMNPQRSTVWXZ"


def visits(payload: Any, prefix: str, count: int) -> list[dict[str, Any]]:
    refs = itertools.product(LETTERS, repeat=4)
    return [payload(visit_ref=f"V-{prefix}{''.join(next(refs))}") for _ in range(count)]


def test_a_file_is_loaded_much_faster_than_visits_one_by_one(
    make_clinic: Any, visit_payload: Any
) -> None:
    clinic = make_clinic()
    many = visits(visit_payload, "M", IN_A_FILE)
    few = visits(visit_payload, "F", ONE_BY_ONE)
    content = io.BytesIO("\n".join(map(json.dumps, many)).encode())
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        start = time.perf_counter()
        for one in few:
            visit_submit(clinic=clinic, data=one, by=TEST_ACTOR, at=NOW, via="api")
        each = (time.perf_counter() - start) / ONE_BY_ONE
        start = time.perf_counter()
        upload_receive(clinic=clinic, stream=content, by=TEST_ACTOR, at=NOW)
        in_bulk = (time.perf_counter() - start) / IN_A_FILE

        assert Visit.objects.count() == IN_A_FILE + ONE_BY_ONE

    print(f"\none by one {1 / each:,.0f} visits/s, in a file {1 / in_bulk:,.0f} visits/s")
    assert each / in_bulk > 3
