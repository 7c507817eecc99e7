"""The same awkward visit by JSON, long CSV, wide CSV and XLSX: one result, and it is right.

Expected figures: the formulas of Jongkees et al. 1962 with the sign kept (Byun, J Korean Bal Soc
2005;4(2):238-242), worked by hand beside each visit.
"""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from tests.registry.intake.visits import csv_of, long_rows, ndjson_of, wide_rows, xlsx_of
from tests.registry.pages import worlds

pytestmark = pytest.mark.django_db

# kind: (weakness or None, reason, a finding that must be there or None)
AWKWARD = {
    # 28 + 17 - 20 + 6 = 31 of 28 + 17 + 20 - 6 = 59
    "negative_peak": (100 * 31 / 59, None, None),
    # 12 + 9 - 11 - 12 = -2
    "sum_not_positive": (None, "sum_not_positive", None),
    "monothermal": (None, "monothermal", None),
    # the repeat of 26 counts: 26 + 22 - 24 - 21 = 3 of 93
    "five_irrigations": (100 * 3 / 93, None, None),
    # 25 + 22 - 24 - 19 = 4 of 90
    "repeat_without_reason": (100 * 4 / 90, None, "repeat_without_reason"),
    "inverted": (..., None, "inverted_response"),
}
ONE_ATTEMPT = ("negative_peak", "sum_not_positive", "monothermal", "inverted")


@pytest.fixture
def coordinator(make_clinic: Any, make_member: Any, client_of: Any) -> Any:
    """A client of a fresh clinic at each call, so that one way never meets another's visit."""
    made = iter(("CL-A", "CL-B", "CL-C", "CL-D", "CL-E"))

    def make() -> Any:
        return client_of(make_member("coordinator", make_clinic(next(made))))

    return make


def by_json(client: Any, visit: dict[str, Any]) -> dict[str, Any]:
    response = client.post("/api/v1/visits/", visit, format="json")
    assert response.status_code == 201, response.content
    return dict(response.json())


def by_file(client: Any, content: bytes) -> dict[str, Any]:
    sent = SimpleUploadedFile("results", content)
    response = client.post("/api/v1/uploads/", {"file": sent}, format="multipart")
    assert response.status_code == 202, response.content
    record = client.get(response["Location"]).json()
    assert (record["visits_created"], record["visits_refused"]) == (1, 0)
    listed = client.get("/api/v1/visits/").json()["results"]
    return dict(client.get(f"/api/v1/visits/{listed[0]['id']}/").json())


@pytest.mark.parametrize("kind", AWKWARD)
def test_every_way_in_gives_the_same_and_right_result(
    kind: str, coordinator: Any, visit_payload: Any
) -> None:
    weakness, reason, finding = AWKWARD[kind]
    visit = visit_payload(**getattr(worlds, kind)())
    rows = [long_rows(visit)] + ([wide_rows(visit)] if kind in ONE_ATTEMPT else [])

    first = by_json(coordinator(), visit)
    others = [by_file(coordinator(), ndjson_of(visit))]
    others += [by_file(coordinator(), csv_of(table)) for table in rows]
    others += [by_file(coordinator(), xlsx_of(rows[0]))]

    indices = first["indices"]
    if weakness is not ...:
        found = indices["unilateral_weakness_percent"]
        assert found == (None if weakness is None else pytest.approx(weakness, abs=1e-9))
    assert indices["undefined_reason"] == reason
    assert finding is None or finding in {one["code"] for one in first["findings"]}
    for other in others:
        for part in ("indices", "assessments", "findings", "protocol_done", "irrigations"):
            assert other[part] == first[part], part


def test_an_inverted_response_keeps_its_sign_and_leaves_the_weakness_undetermined(
    coordinator: Any, visit_payload: Any
) -> None:
    body = by_json(coordinator(), visit_payload(**worlds.inverted()))

    negative = [one["peak_spv"] for one in body["irrigations"] if one["peak_spv"] < 0]
    assert negative
    assert "undetermined" in {one["code"] for one in body["assessments"]}
