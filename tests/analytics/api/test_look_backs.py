"""Look-backs: whole to their clinic, in months to a lead; decided by the clinic alone."""

from __future__ import annotations

import base64
import re
from datetime import timedelta
from urllib.parse import parse_qs, urlsplit
from uuid import uuid4

import pytest

from analytics.models import LookBack, LookBackVisit
from registry.models import AuditEvent, TemperatureCheck
from tests.analytics.api.conftest import ROOT
from tests.conftest import NOW

pytestmark = pytest.mark.django_db
MOMENT = re.compile(r"20\d\d-\d\d-\d\d|T\d\d:\d\d")


def decide(scene, ids, body, *, role="coordinator"):
    return scene.clients[role].post(
        f"{ROOT}look-backs/{ids['look_back']}/visits/{ids['looked_back']}/decide/",
        body,
        format="json",
    )


def test_the_clinic_sees_the_check_and_the_visits(get, ids):
    body = get("coordinator", "look-backs/{look_back}/").json()

    assert (body["clinic"], body["irrigator"]["code"], body["checked_month"]) == (
        "CL-A",
        "IR-2",
        "2026-03",
    )
    assert (body["deviation_c"], body["tolerance_c"]) == (1.0, 0.5)
    assert (body["visit_count"], body["changed_count"], body["undecided_count"]) == (1, 0, 1)
    (visit,) = body["visits"]
    assert (visit["id"], visit["visit_date"], visit["decision"]) == (
        ids["looked_back"],
        "2026-03-02",
        None,
    )


@pytest.mark.parametrize("address", ["look-backs/", "look-backs/{look_back}/"])
def test_a_lead_is_told_months_and_neither_day_nor_hour(get, address):
    whole = get("site_lead", address).content.decode()
    reduced = get("lead", address).content.decode()

    assert MOMENT.search(whole)
    assert not MOMENT.search(reduced)
    assert '"checked_month":"2026-03"' in reduced


def test_the_cursor_that_a_lead_gets_holds_no_moment(get, inside, scene, ids):
    with inside():
        first = LookBack.objects.get()
        check = TemperatureCheck.objects.get(id=ids["check"])
        check.id, check.checked_at = uuid4(), NOW - timedelta(days=20)
        check.save(force_insert=True)
        first.id, first.check_id, first.checked_at = uuid4(), check.id, check.checked_at
        first.save(force_insert=True)

    page = get("lead", "look-backs/?page_size=1").json()
    following = get("lead", page["next"].partition(ROOT)[2]).json()

    cursor = parse_qs(urlsplit(page["next"]).query)["cursor"][0]
    told = base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4)).decode()
    assert not MOMENT.search(told)
    assert page["results"][0]["id"] == ids["look_back"]
    assert [one["checked_month"] for one in following["results"]] == ["2026-02"]
    assert following["next"] is None


def test_a_decision_is_kept_with_time_and_person_and_may_be_changed(scene, ids, get, inside):
    first = decide(scene, ids, {"decision": "recall"})
    second = decide(scene, ids, {"decision": "no_change"}, role="site_lead")

    assert [one.json()["decision"] for one in (first, second)] == ["recall", "no_change"]
    assert get("coordinator", "look-backs/{look_back}/").json()["undecided_count"] == 0
    with inside():
        row = LookBackVisit.objects.get()
        events = AuditEvent.objects.filter(action="look_back.decided").count()
    assert (row.decided_by, row.decision, events) == ("site_lead-CL-A", "no_change", 2)
    assert "site_lead-CL-A" not in second.content.decode()


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ({}, "required"),
        ({"decision": "forget"}, "not_in_list"),
        ({"decision": "recall", "why": "x"}, "unknown_field"),
    ],
)
def test_a_decision_that_is_none_leaves_no_trace(scene, ids, body, code):
    before = scene.snapshot()

    response = decide(scene, ids, body)

    assert (response.status_code, response.json()["errors"][0]["code"]) == (422, code)
    assert scene.snapshot() == before


def test_a_visit_that_the_look_back_does_not_hold_is_not_found(scene, ids):
    before = scene.snapshot()

    response = decide(scene, ids | {"looked_back": str(uuid4())}, {"decision": "recall"})

    assert response.status_code == 404
    assert scene.snapshot() == before


def test_a_lead_may_read_and_not_decide(scene, ids):
    before = scene.snapshot()

    response = decide(scene, ids, {"decision": "recall"}, role="lead")

    assert response.status_code == 403
    assert scene.snapshot() == before
