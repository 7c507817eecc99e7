"""Signals: seen by the tester concerned first, replied to, reviewed; each in its own right."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.utils import timezone

from analytics.models import Signal, SignalEntry
from tests.analytics.api.conftest import ROOT
from tests.analytics.rows import make_signal
from tests.conftest import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def added(inside, scene, ids):
    """Add a signal of the first clinic, about T-07 when nothing else is said; its id."""

    def add(**fields):
        with inside():
            asked = {"subject_id": ids["tester"], "measure": "low_total"} | fields
            return str(make_signal(scene.clinic, **asked).id)

    return add


def listed(get, role, query=""):
    return [one["id"] for one in get(role, f"signals/{query}").json()["results"]]


def review(scene, ids, body, *, role="site_lead", **headers):
    return scene.clients[role].post(
        f"{ROOT}signals/{ids['signal']}/review/", body, format="json", headers=headers
    )


def reply(scene, ids, body, *, role="tester"):
    return scene.clients[role].post(f"{ROOT}signals/{ids['signal']}/reply/", body, format="json")


def test_a_signal_says_whom_it_is_about_and_since_when(get, ids):
    body = get("tester", "signals/{signal}/").json()

    assert body["subject"] == {
        "kind": "tester",
        "id": ids["tester"],
        "code": "T-07",
        "clinic": "CL-A",
        "part": "",
    }
    assert (body["measure"], body["title"]) == ("right_left_balance", "Right-left balance")
    assert (body["since"], body["back_within"], body["distance"]) == ("2026-03-01", None, 4.5)


def test_the_visits_behind_a_signal_are_listed_by_its_link(get, sent_visit, ids):
    elsewhere = {
        sent_visit(visit_ref="V-BBB", visit_date="2026-02-28")["id"],
        sent_visit(visit_ref="V-CCC", visit_date="2026-04-01")["id"],
        sent_visit(visit_ref="V-DDD", tester="T-08")["id"],
    }

    link = get("site_lead", "signals/{signal}/").json()["visits"]

    response = get("site_lead", "visits/", data=link)

    assert link == {
        "clinic": "CL-A",
        "tester": "T-07",
        "from": "2026-03-01",
        "to": "2026-03-31",
    }
    listed_ids = {one["id"] for one in response.json()["results"]}
    assert ids["visit"] in listed_ids
    assert listed_ids.isdisjoint(elsewhere)


@pytest.mark.parametrize(
    ("evidence", "last"), [({"told_in": "2026-04-01"}, "2026-04-30"), ({}, "2026-05-31")]
)
def test_the_link_ends_with_the_months_that_the_evidence_is_of(get, added, evidence, last):
    signal = added(evidence=evidence, last_month_beyond=date(2026, 5, 1))

    link = get("lead", f"signals/{signal}/").json()["visits"]

    assert (link["from"], link["to"]) == ("2026-03-01", last)


def test_the_link_of_an_irrigators_and_of_a_clinics_signal_names_no_tester(get, added, ids):
    irrigator = added(subject_kind="irrigator", subject_id=ids["irrigator"])
    clinic = added(subject_kind="clinic", subject_id=ids["clinic"])

    links = [get("lead", f"signals/{one}/").json()["visits"] for one in (irrigator, clinic)]

    days = {"clinic": "CL-A", "from": "2026-03-01", "to": "2026-03-31"}
    assert links == [days | {"irrigator": "IR-2"}, days]


def test_a_tester_sees_no_signal_about_a_colleague_or_an_irrigator(get, added, ids, other_tester):
    hidden = [
        added(subject_id=other_tester),
        added(subject_kind="irrigator", subject_id=ids["irrigator"]),
    ]

    assert listed(get, "tester") == [ids["signal"]]
    assert {get("tester", f"signals/{one}/").status_code for one in hidden} == {404}


def test_leads_find_a_signal_from_its_own_day_on_and_its_tester_before(get, added):
    later = added(leads_from=timezone.now() + timedelta(days=1))

    answers = {
        role: get(role, f"signals/{later}/").status_code for role in ("tester", "site_lead", "lead")
    }

    assert answers == {"tester": 200, "site_lead": 404, "lead": 404}
    assert later in listed(get, "tester")
    assert later not in listed(get, "lead")


def test_leads_are_listed_what_is_worth_a_look_only_when_they_ask_for_its_subject(get, added):
    slight = added(tier="worth_a_look")

    assert slight in listed(get, "tester")
    assert slight not in listed(get, "lead")
    assert slight in listed(get, "lead", "?tester=T-07")
    assert slight in listed(get, "lead", "?tier=worth_a_look")


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("clinic=CL-A", 2),
        ("clinic=CL-B", 0),
        ("tester=T-07", 1),
        ("tester=T-08", 0),
        ("irrigator=IR-2", 1),
        ("measure=low_total", 1),
        ("state=to_review", 2),
        ("state=explained", 0),
        ("tier=please_review", 2),
        ("open=true", 1),
        ("open=false", 1),
        ("from=2026-03-31", 1),
        ("to=2026-02-01", 1),
        ("from=2026-02-01&to=2026-03-01", 2),
    ],
)
def test_a_list_is_narrowed_by(get, added, ids, query, found):
    february = date(2026, 2, 1)
    added(
        subject_kind="irrigator",
        subject_id=ids["irrigator"],
        opened_month=february,
        last_month_beyond=february,
        back_within=date(2026, 3, 1),
    )

    assert len(listed(get, "lead", f"?{query}")) == found


@pytest.mark.parametrize(
    "query", ["order=x", "state=new", "measure=x", "open=1", "from=March", "state=a&state=b"]
)
def test_a_filter_that_is_none_is_refused(get, query):
    response = get("lead", f"signals/?{query}")

    assert (response.status_code, response.json()["code"]) == (400, "parameter_not_valid")


def test_a_walk_over_the_pages_meets_every_signal_once(get, added, ids):
    known = {ids["signal"]}
    known |= {added(opened_month=date(2025, month, 1), opened_at=NOW) for month in range(1, 6)}
    known |= {added(measure="inverted", opened_at=NOW - timedelta(days=1))}

    walked, address = [], f"{ROOT}signals/?page_size=2"
    while address:
        page = get("tester", address.removeprefix("http://testserver").removeprefix(ROOT)).json()
        walked += [one["id"] for one in page["results"]]
        address = page["next"]

    assert len(walked) == 7
    assert set(walked) == known


def test_reading_is_noted_once_and_only_when_the_tester_concerned_reads(get, added, inside):
    signal = added()
    seen = [
        get(role, f"signals/{signal}/").json()["seen_by_tester"]
        for role in ("lead", "site_lead", "tester", "lead")
    ]
    with inside():
        first = Signal.objects.get(id=signal).seen_by_tester_at
    get("tester", f"signals/{signal}/")

    assert seen == [False, False, True, True]
    with inside():
        assert Signal.objects.get(id=signal).seen_by_tester_at == first


def test_a_review_is_kept_with_the_role_and_without_the_name(scene, ids):
    body = {
        "state": "acted_on",
        "cause": "technique",
        "action": "joint_reading",
        "due_on": "2099-01-01",
        "note": "Read five tests together.",
    }

    response = review(scene, ids, body, **{"If-Match": '"1"'})

    answer = response.json()
    assert (response.status_code, response["ETag"], answer["version"]) == (200, '"2"', 2)
    assert {name: answer[name] for name in ("state", "cause", "action", "due_on")} == {
        name: body[name] for name in ("state", "cause", "action", "due_on")
    }
    assert {name: answer["entries"][-1][name] for name in (*body, "kind", "made_as")} == body | {
        "kind": "review",
        "made_as": "site_lead",
    }
    assert "site_lead-CL-A" not in response.content.decode()


def test_a_review_needs_the_version_that_it_is_of(scene, ids):
    before = scene.snapshot()
    body = {"state": "explained", "cause": "chance"}

    without = review(scene, ids, body)
    other = review(scene, ids, body, **{"If-Match": '"2"'})
    weak = review(scene, ids, body, **{"If-Match": 'W/"1"'})

    assert [one.status_code for one in (without, other, weak)] == [428, 412, 412]
    assert [one.json()["code"] for one in (without, other)] == [
        "version_needed",
        "version_mismatch",
    ]
    assert scene.snapshot() == before


@pytest.mark.parametrize(
    ("body", "pointer", "code"),
    [
        ({}, "/state", "required"),
        ({"state": "solved"}, "/state", "not_in_list"),
        ({"state": "explained"}, "/cause", "cause_needed"),
        ({"state": "acted_on", "cause": "chance"}, "/action", "action_needed"),
        ({"state": "to_review", "due_on": "2020-01-01"}, "/due_on", "date_in_past"),
        ({"state": "to_review", "note": "x" * 501}, "/note", "note_too_long"),
        ({"state": "to_review", "note": "ask a.b@c.example"}, "/note", "note_names_somebody"),
        ({"state": "to_review", "who": "x"}, "", "unknown_field"),
        ([], "", "not_an_object"),
    ],
)
def test_a_review_that_cannot_be_kept_says_why_and_leaves_no_trace(scene, ids, body, pointer, code):
    before = scene.snapshot()

    response = review(scene, ids, body, **{"If-Match": '"1"'})

    (error,) = response.json()["errors"]
    assert response.status_code == 422
    assert (error["pointer"], error["code"]) == (pointer, code)
    assert scene.snapshot() == before


def test_a_lead_reviews_too_and_a_lead_of_another_network_finds_nothing(scene, ids):
    body = {"state": "no_cause_found", "cause": "unknown"}
    before = scene.snapshot()

    address = f"{ROOT}signals/{ids['signal']}/review/"
    theirs = scene.others["lead"].post(address, body, format="json", headers={"If-Match": '"1"'})

    assert theirs.status_code == 404
    assert scene.snapshot() == before
    assert review(scene, ids, body, role="lead", **{"If-Match": '"1"'}).status_code == 200


def test_a_tester_may_not_review_and_leaves_no_trace(scene, ids):
    before = scene.snapshot()

    response = review(
        scene, ids, {"state": "explained", "cause": "chance"}, role="tester", **{"If-Match": '"1"'}
    )

    assert response.status_code == 403
    assert scene.snapshot() == before


def test_a_reply_shows_the_signal_to_leads_at_once(scene, ids, get, inside):
    with inside():
        Signal.objects.update(leads_from=timezone.now() + timedelta(days=9))
    before = get("site_lead", "signals/{signal}/").status_code

    response = reply(scene, ids, {"note": "The recorder was new to me."})

    seen = get("site_lead", "signals/{signal}/").json()
    assert (before, response.status_code, response["ETag"]) == (404, 200, '"2"')
    assert (seen["entries"][-1]["kind"], seen["entries"][-1]["note"]) == (
        "reply",
        "The recorder was new to me.",
    )


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ({}, "required"),
        ({"note": ""}, "note_empty"),
        ({"note": "call 0123456789"}, "note_names_somebody"),
    ],
)
def test_a_reply_that_cannot_be_kept_leaves_no_trace(scene, ids, body, code):
    before = scene.snapshot()

    response = reply(scene, ids, body)

    assert (response.status_code, response.json()["errors"][0]["code"]) == (422, code)
    assert scene.snapshot() == before


def test_nobody_but_the_tester_concerned_replies(scene, ids, added, other_tester, inside):
    about_colleague = added(subject_id=other_tester)
    with inside():
        entries = SignalEntry.objects.count()

    answers = [
        reply(scene, ids, {"note": "Mine."}, role=role).status_code
        for role in ("lead", "site_lead")
    ]
    colleague = reply(scene, {"signal": about_colleague}, {"note": "Mine."}).status_code

    assert (answers, colleague) == ([403, 403], 404)
    with inside():
        assert SignalEntry.objects.count() == entries
