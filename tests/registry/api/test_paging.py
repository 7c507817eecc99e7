"""Cursor pages: each row once, whatever is added meanwhile."""

from __future__ import annotations

import base64
import json

import pytest
from django.core.exceptions import ImproperlyConfigured
from rest_framework.request import Request
from rest_framework.test import APIRequestFactory

from registry.access.scope import clinic_scope
from registry.api.paging import page_of
from registry.models import Tester
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db
TESTERS = "/api/v1/testers/"
VISITS = "/api/v1/visits/"


def walk(client, address, *, link="next", between=lambda: None):
    """The pages from an address on, following the link; something may happen in between."""
    pages = []
    while address:
        body = client.get(address).json()
        pages.append(body["results"])
        address = body[link]
        between()
    return pages


def add_testers(clinic, codes):
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        for code in codes:
            Tester.objects.create(clinic=clinic, code=code, created_at=NOW)


def cursor(*values):
    return base64.urlsafe_b64encode(json.dumps(values).encode()).decode().rstrip("=")


def test_a_whole_walk_sees_each_row_once_and_in_order(scene):
    add_testers(scene.clinic, [f"T-{number}" for number in range(20, 43)])

    pages = walk(scene.clients["coordinator"], f"{TESTERS}?page_size=4")

    codes = [one["code"] for page in pages for one in page]
    assert [len(page) for page in pages] == [4] * 6 + [1]
    assert codes == sorted({"T-07", "T-08"} | {f"T-{number}" for number in range(20, 43)})


def test_rows_of_the_same_day_are_each_seen_once(scene, sent_visit):
    sent = {sent_visit(visit_ref=f"V-{letter * 3}")["id"] for letter in "BCDFGHJ"}

    pages = walk(scene.clients["coordinator"], f"{VISITS}?page_size=2")

    seen = [one["id"] for page in pages for one in page]
    assert len(seen) == len(sent)
    assert set(seen) == sent


def test_the_latest_visit_comes_first(scene, sent_visit):
    for day in ("2026-03-01", "2026-03-03", "2026-03-02"):
        sent_visit(visit_ref=f"V-K{day[-1]}{day[-1]}", visit_date=day)

    pages = walk(scene.clients["coordinator"], f"{VISITS}?page_size=1")

    days = [one["visit_date"] for page in pages for one in page]
    assert days == ["2026-03-03", "2026-03-02", "2026-03-01"]


def test_a_row_added_before_the_place_neither_repeats_nor_skips_another(scene):
    add_testers(scene.clinic, [f"T-{number}" for number in range(20, 30)])
    before = {"T-07", "T-08"} | {f"T-{number}" for number in range(20, 30)}
    added = iter(f"A-{number}" for number in range(10, 30))

    pages = walk(
        scene.clients["coordinator"],
        f"{TESTERS}?page_size=3",
        between=lambda: add_testers(scene.clinic, [next(added)]),
    )

    codes = [one["code"] for page in pages for one in page]
    assert len(codes) == len(set(codes))
    assert set(codes) == before


def test_going_back_gives_the_same_pages(scene):
    add_testers(scene.clinic, [f"T-{number}" for number in range(20, 30)])
    client = scene.clients["coordinator"]
    forward = walk(client, f"{TESTERS}?page_size=5")
    last = f"{TESTERS}?page_size=5"
    while (following := client.get(last).json()["next"]) is not None:
        last = following

    backward = walk(client, last, link="previous")

    assert backward == forward[::-1]


def test_the_first_page_has_no_previous_and_the_last_no_next(scene):
    body = scene.clients["coordinator"].get(TESTERS).json()

    assert (body["next"], body["previous"]) == (None, None)
    assert set(body) == {"results", "next", "previous"}


def test_filters_go_on_to_the_next_page(scene, sent_visit):
    for letter in "BCD":
        sent_visit(visit_ref=f"V-{letter * 3}", medium="air")
        sent_visit(visit_ref=f"W-{letter * 3}")

    pages = walk(scene.clients["coordinator"], f"{VISITS}?page_size=1&medium=air")

    assert [one["medium"] for page in pages for one in page] == ["air"] * 3


@pytest.mark.parametrize(
    "text",
    [
        "",
        "x",
        "%00",
        "é",
        cursor(0, "T-07"),
        cursor(0, "T-07", "no id"),
        cursor(2, "T-07", "018f0000-0000-7000-8000-000000000000"),
        cursor(0, "T-07", None),
        cursor({"a": 1}),
        cursor(0, ["T-07"], "x", 3),
        cursor(0, "T\0", "018f0000-0000-7000-8000-000000000000"),
        cursor(0, "\ud800", "018f0000-0000-7000-8000-000000000000"),
        base64.urlsafe_b64encode(b"[" * 100_000).decode(),
    ],
)
def test_a_cursor_that_is_none_is_400(scene, text):
    response = scene.clients["coordinator"].get(TESTERS, {"cursor": text})

    assert response.status_code == 400
    assert response.json()["code"] == "cursor_not_valid"


def test_a_cursor_whose_time_says_no_offset_is_400(scene):
    text = cursor(0, "2026-03-02T08:00:00", "018f0000-0000-7000-8000-000000000000")

    response = scene.clients["coordinator"].get("/api/v1/temperature-checks/", {"cursor": text})

    assert (response.status_code, response.json()["code"]) == (400, "cursor_not_valid")


@pytest.mark.parametrize("order", [(), ("code",), ("-code", "id")])
def test_a_list_without_a_total_order_is_not_paged(order):
    request = Request(APIRequestFactory().get("/"))

    with pytest.raises(ImproperlyConfigured):
        page_of(request, Tester.objects.order_by(*order))
