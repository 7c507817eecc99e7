"""The list of visits: what a row says, filters, older and newer pages."""

from __future__ import annotations

import re
from typing import Any

import pytest

from registry.pages import lists
from tests.registry.pages import worlds
from tests.registry.pages.conftest import said

pytestmark = pytest.mark.django_db


@pytest.fixture
def clinic(make_clinic: Any) -> Any:
    return make_clinic()


@pytest.fixture
def browser(clinic: Any, make_member: Any, browser_of: Any) -> Any:
    return browser_of(make_member("coordinator", clinic))


def refs(response: Any) -> list[str]:
    return re.findall(r">(V-[B-Z]+)</a>", response.content.decode())


@pytest.fixture
def three(clinic: Any, store: Any) -> None:
    """Of the second, fourth and third of March: plain, with an open drum, weak on the left."""
    store(clinic, visit_ref="V-BBB", visit_date="2026-03-02", medium="air")
    store(clinic, visit_ref="V-CCC", visit_date="2026-03-04", **worlds.open_drum_and_water())
    store(clinic, visit_ref="V-DDD", visit_date="2026-03-03", peaks=(28.0, 20.0, 14.0, 10.0))


def test_a_row_says_date_total_weakness_and_criteria_in_words(three: Any, browser: Any) -> None:
    words = said(browser.get("/visits/"))

    assert (
        "3 March 2026 V-DDD T-07, IR-2 72 deg/s 33 % lower on the left"
        " Unilateral weakness beyond the limit" in words
    )
    assert "V-CCC safety finding" in words


def test_the_newest_visit_stands_first(three: Any, browser: Any) -> None:
    assert refs(browser.get("/visits/")) == ["V-CCC", "V-DDD", "V-BBB"]


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("tester=T-07", ["V-CCC", "V-DDD", "V-BBB"]),
        ("tester=T-08", []),
        ("irrigator=IR-2&medium=air", ["V-BBB"]),
        ("from=2026-03-03", ["V-CCC", "V-DDD"]),
        ("to=2026-03-03", ["V-DDD", "V-BBB"]),
        ("finding=open_water_with_open_drum", ["V-CCC"]),
        ("assessment=unilateral_weakness", ["V-DDD"]),
        ("withdrawn=true", []),
        ("withdrawn=false&tester=&medium=", ["V-CCC", "V-DDD", "V-BBB"]),
    ],
)
def test_a_filter_keeps_only_what_fits(
    asked: str, found: list[str], three: Any, browser: Any
) -> None:
    assert refs(browser.get(f"/visits/?{asked}")) == found


def test_a_filter_that_cannot_be_read_is_a_fault_and_not_ignored(three: Any, browser: Any) -> None:
    response = browser.get("/visits/?from=yesterday&medium=steam")

    assert response.status_code == 400
    assert 'id="f-from-problem"' in response.content.decode()
    assert 'id="f-medium-problem"' in response.content.decode()
    # Without that filter the list would be another one than was asked for.
    assert not refs(response)
    assert "No visit is shown until the filters are mended." in said(response)
    assert "stored" not in said(response)


def test_a_visit_with_one_temperature_gives_its_own_pair_and_its_open_criteria_once(
    clinic: Any, store: Any, browser: Any
) -> None:
    # Warm pair: 100 * (22 - 21) / 43 = 2.3.
    store(clinic, visit_ref="V-MMM", **worlds.monothermal())

    words = said(browser.get("/visits/"))

    assert "warm pair alone: 2 % lower on the left" in words
    assert "Undetermined: unilateral weakness, directional preponderance" in words


def test_older_and_newer_pages_show_every_visit_once_and_nothing_twice(
    clinic: Any, store: Any, browser: Any, monkeypatch: Any
) -> None:
    monkeypatch.setattr(lists, "SIZE", 2)
    made = [f"V-{letter * 3}" for letter in "BCDFG"]
    for ref in made:
        store(clinic, visit_ref=ref, medium="air")

    address, seen, back = "/visits/?medium=air", [], ""
    while address:
        response = browser.get(address)
        seen.append(refs(response))
        older = re.search(r'href="(\?[^"]*before=[^"]*)"', response.content.decode())
        newer = re.search(r'href="(\?[^"]*after=[^"]*)"', response.content.decode())
        back = newer[1].replace("&amp;", "&") if newer else ""
        address = "/visits/" + older[1].replace("&amp;", "&") if older else ""

    assert [len(page) for page in seen] == [2, 2, 1]
    assert sorted(ref for page in seen for ref in page) == made
    assert "medium=air" in back
    assert refs(browser.get(f"/visits/{back}")) == seen[1]


def test_a_visit_added_meanwhile_moves_nothing(
    clinic: Any, store: Any, browser: Any, monkeypatch: Any
) -> None:
    monkeypatch.setattr(lists, "SIZE", 2)
    for number, ref in enumerate(("V-BBB", "V-CCC", "V-DDD"), start=1):
        store(clinic, visit_ref=ref, visit_date=f"2026-03-0{number}")
    first = browser.get("/visits/")
    older = re.search(r'href="(\?before=[^"]*)"', first.content.decode())
    assert older is not None

    store(clinic, visit_ref="V-FFF", visit_date="2026-03-04")

    assert refs(browser.get(f"/visits/{older[1]}")) == ["V-BBB"]


@pytest.mark.parametrize("cursor", ["nonsense", "00000000-0000-0000-0000-000000000000"])
def test_a_cursor_that_names_no_visit_of_ones_own_is_not_there(
    cursor: str, three: Any, browser: Any
) -> None:
    assert browser.get(f"/visits/?before={cursor}").status_code == 404


def test_the_cursor_of_a_lead_tells_no_day(
    clinic: Any, store: Any, make_member: Any, browser_of: Any, monkeypatch: Any
) -> None:
    monkeypatch.setattr(lists, "SIZE", 1)
    for ref in ("V-BBB", "V-CCC"):
        store(clinic, visit_ref=ref)

    page = browser_of(make_member("lead", clinic.network)).get("/visits/").content.decode()

    older = re.search(r'href="\?before=([0-9a-f-]{36})"', page)
    assert older is not None
    assert "2026-03-02" not in page
