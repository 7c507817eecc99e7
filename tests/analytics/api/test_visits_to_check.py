"""Visits that stand out: whole to their clinic, in months to a lead."""

from __future__ import annotations

import base64
import re
from datetime import date
from urllib.parse import parse_qs, urlsplit

import pytest

from analytics.models import StandOut
from tests.analytics.api.conftest import ROOT

pytestmark = pytest.mark.django_db
DAY = re.compile(r"20\d\d-\d\d-\d\d")


@pytest.fixture
def several(inside, scene, sent_visit, ids, other_tester):
    """Ids by day: the first, five more in March, and a colleague's in February."""
    with inside():
        made = {"2026-03-02": str(StandOut.objects.get().visit_id)}
    for number in range(5):
        day = f"2026-03-0{number + 3}"
        made[day] = sent_visit(visit_ref=f"V-BB{number}", visit_date=day)["id"]
    made["2026-02-27"] = sent_visit(visit_ref="V-CCC", visit_date="2026-02-27", tester="T-08")["id"]
    with inside():
        for day, visit in list(made.items())[1:]:
            StandOut.objects.create(
                clinic_id=scene.clinic.pk,
                visit_id=visit,
                tester_id=other_tester if day == "2026-02-27" else ids["tester"],
                month=date.fromisoformat(day).replace(day=1),
                visit_date=day,
                distance=5.5,
                reason_codes=["decimal_slip"],
                reasons=[{"code": "decimal_slip", "value": 310.0}],
                negative_peaks=0,
                reference_version=1,
            )
    return made


def walk(client, query=""):
    found, address = [], f"{ROOT}visits-to-check/{query}"
    while address:
        page = client.get(address).json()
        found += page["results"]
        address = page["next"]
    return found


def test_the_clinic_sees_day_and_code_newest_first(scene, several):
    found = walk(scene.clients["coordinator"])

    assert [one["visit_date"] for one in found] == sorted(several, reverse=True)
    assert {one["id"] for one in found} == set(several.values())
    assert found[0] == {
        "id": several["2026-03-07"],
        "clinic": "CL-A",
        "tester": "T-07",
        "month": "2026-03",
        "visit_date": "2026-03-07",
        "visit_ref": "V-BB4",
        "distance": 5.5,
        "reason_codes": ["decimal_slip"],
        "reasons": [{"code": "decimal_slip", "value": 310.0}],
    }


def test_a_tester_sees_the_own_ones(scene, several):
    found = walk(scene.clients["tester"])

    assert {one["tester"] for one in found} == {"T-07"}
    assert len(found) == 6


def test_to_a_lead_neither_the_body_nor_the_order_nor_the_cursor_tells_the_day(scene, several):
    page = scene.clients["lead"].get(f"{ROOT}visits-to-check/?page_size=4")

    found = walk(scene.clients["lead"], "?page_size=4")
    march = [several[day] for day in several if day.startswith("2026-03")]
    cursor = parse_qs(urlsplit(page.json()["next"]).query)["cursor"][0]
    told = base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4)).decode()
    assert [one["id"] for one in found] == [*sorted(march, reverse=True), several["2026-02-27"]]
    assert {(one["visit_date"], one["visit_ref"]) for one in found} == {(None, None)}
    assert set(DAY.findall(page.content.decode() + told)) <= {"2026-03-01", "2026-02-01"}
    assert "V-" not in page.content.decode()


def test_the_days_that_a_lead_asks_for_are_widened_to_months(scene, several):
    by_day = walk(scene.clients["site_lead"], "?from=2026-03-04&to=2026-03-04")
    by_month = walk(scene.clients["lead"], "?from=2026-03-04&to=2026-03-04")

    assert [one["id"] for one in by_day] == [several["2026-03-04"]]
    assert len(by_month) == 6


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("clinic=CL-A", 7),
        ("clinic=CL-B", 0),
        ("tester=T-08", 1),
        ("tester=T-99", 0),
        ("reason=decimal_slip", 6),
        ("reason=negative_peaks", 1),
        ("reason=none_such", 0),
        ("from=2026-03-06", 2),
        ("to=2026-02-28", 1),
    ],
)
def test_a_list_is_narrowed_by(scene, several, query, found):
    assert len(walk(scene.clients["site_lead"], f"?{query}")) == found


@pytest.mark.parametrize(
    "query", ["reason=%00", "reason=A%20name", "reason=", "why=x", "reason=a1&reason=b2"]
)
def test_a_filter_that_is_none_is_refused(get, query):
    response = get("coordinator", f"visits-to-check/?{query}")

    assert (response.status_code, response.json()["code"]) == (400, "parameter_not_valid")
