"""A lead knows months: neither the order of a list nor a notice tells a day or an hour."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from registry.pages import lists
from tests.registry.pages.conftest import said

pytestmark = pytest.mark.django_db


@pytest.fixture
def month(make_clinic: Any, store: Any) -> Any:
    """A clinic with a visit on each of the first days of a month, and one of the month before."""
    clinic = make_clinic()
    for day in range(1, 10):
        store(clinic, visit_ref=f"V-B{day}", visit_date=f"2026-03-0{day}")
    store(clinic, visit_ref="V-CCC", visit_date="2026-02-27")
    return clinic


def all_ids(client: Any) -> list[str]:
    address, found = "/api/v1/visits/?page_size=4", []
    while address:
        body = client.get(address).json()
        found += [one["id"] for one in body["results"]]
        address = body["next"]
    return found


def test_the_order_of_a_list_is_by_month_and_by_chance(
    month: Any, make_member: Any, client_of: Any
) -> None:
    by_day = all_ids(client_of(make_member("coordinator", month)))

    seen = all_ids(client_of(make_member("lead", month.network)))

    assert seen == [*sorted(by_day[:9], reverse=True), by_day[9]]


def test_a_visit_tells_no_moment_of_its_arrival_or_withdrawal(
    make_clinic: Any, store: Any, make_member: Any, client_of: Any
) -> None:
    clinic = make_clinic()
    address = f"/api/v1/visits/{store(clinic)}/"
    client_of(make_member("coordinator", clinic)).post(f"{address}withdraw/")

    answer = client_of(make_member("lead", clinic.network)).get(address)

    assert answer.json()["withdrawn"] is True
    assert not re.search(r"\d{4}-\d\d-\d\d", answer.content.decode())


def test_the_pages_of_a_list_show_every_visit_once(
    month: Any, make_member: Any, browser_of: Any, monkeypatch: Any
) -> None:
    monkeypatch.setattr(lists, "SIZE", 3)
    browser = browser_of(make_member("lead", month.network))

    seen, address = [], "/visits/"
    while address:
        page = browser.get(address).content.decode()
        seen += re.findall(r'href="/visits/([0-9a-f-]{36})/"', page)
        older = re.search(r'href="(\?before=[^"]*)"', page)
        address = f"/visits/{older[1]}" if older else ""

    assert len(seen) == len(set(seen)) == 10


def test_a_lead_is_not_told_when_an_irrigator_failed_its_check(
    make_clinic: Any, store: Any, check: Any, make_member: Any, browser_of: Any
) -> None:
    clinic = make_clinic()
    visit_id = store(clinic)
    for day in (5, 6):
        check(clinic, reading=46.0, day=day)
    address = f"/visits/{visit_id}/"

    own = browser_of(make_member("coordinator", clinic)).get(address)
    lead = browser_of(make_member("lead", clinic.network)).get(address)

    assert "out of use since 6 March 2026, 08:00" in said(own)
    assert "08:00" not in said(lead)
    assert "6 March" not in said(lead)


def test_a_refused_filter_comes_back_in_no_link(
    month: Any, make_member: Any, browser_of: Any, monkeypatch: Any
) -> None:
    monkeypatch.setattr(lists, "SIZE", 3)
    browser = browser_of(make_member("coordinator", month))

    response = browser.get("/visits/?tester=Anna+Example")

    assert response.status_code == 400
    assert "No visit is shown until the filters are mended." in said(response)
    assert "Example" not in response.content.decode()


def test_a_file_lies_on_the_disk_without_the_name_it_came_under(
    month: Any, make_member: Any, browser_of: Any, monkeypatch: Any
) -> None:
    seen = []

    def receive(*, stream: Any, **_: Any) -> Any:
        seen.append((stream.temporary_file_path(), stream.name))
        raise RuntimeError

    monkeypatch.setattr("registry.pages.uploads.upload_receive", receive)
    browser = browser_of(make_member("coordinator", month))
    browser.raise_request_exception = False

    browser.post("/uploads/", {"file": SimpleUploadedFile("march.Anna Example", b"x")})

    assert len(seen) == 1
    assert "Example" not in "".join(seen[0])
