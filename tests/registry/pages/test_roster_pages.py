"""Irrigators and their temperature checks, testers, recorders and thermometers."""

from __future__ import annotations

from typing import Any

import pytest

from registry.access.scope import clinic_scope
from registry.models import Irrigator, Recorder, TemperatureCheck, Tester, Thermometer
from tests.conftest import TEST_ACTOR
from tests.registry.pages.conftest import said

pytestmark = pytest.mark.django_db


@pytest.fixture
def clinic(make_clinic: Any) -> Any:
    return make_clinic()


@pytest.fixture
def browser(clinic: Any, make_member: Any, browser_of: Any) -> Any:
    return browser_of(make_member("coordinator", clinic))


@pytest.fixture
def address(clinic: Any) -> str:
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        return f"/irrigators/{Irrigator.objects.get(clinic=clinic).id}/"


def all_of(clinic: Any, model: Any) -> list[Any]:
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        return list(model.objects.order_by("pk"))


WARM = {"stimulus": "warm", "set_temperature_c": "44", "reading_c": "44.1"}


def test_a_reading_is_recorded_with_nothing_but_itself_typed(
    clinic: Any, browser: Any, address: str
) -> None:
    words = said(browser.post(address, WARM, follow=True))

    assert "Recorded: 44.1 °C, within tolerance." in words
    (check,) = all_of(clinic, TemperatureCheck)
    assert (check.reading_c, check.stimulus, check.phase) == (44.1, "warm", None)


def test_the_set_temperature_of_the_last_check_stands_ready_for_the_next(
    browser: Any, address: str
) -> None:
    browser.post(address, WARM)

    page = browser.get(address).content.decode()

    assert 'id="f-warm-set-temperature-c"' in page
    assert 'name="set_temperature_c" type="text" inputmode="decimal" class="number"' in page
    assert page.count('value="44"') == 1


def test_one_bad_reading_asks_for_a_second_and_two_take_it_out_of_use(
    clinic: Any, browser: Any, address: str
) -> None:
    bad = WARM | {"reading_c": "45.2"}

    first = said(browser.post(address, bad | {"checked_at": "2026-03-01 08:00:00"}, follow=True))
    second = said(browser.post(address, bad | {"checked_at": "2026-03-01 08:05:00"}, follow=True))

    assert "Take a second reading now to confirm it." in first
    assert "Irrigator IR-2 is out of use" not in first
    assert "The irrigator is out of use." in second
    assert second.index("Irrigator IR-2 is out of use") < second.index("Temperature checks")


@pytest.mark.parametrize("page", ["/", "/irrigators/", None])
def test_out_of_use_is_said_first_with_its_caution(
    page: str | None, clinic: Any, browser: Any, address: str, check: Any
) -> None:
    check(clinic, reading=45.2, day=1)
    check(clinic, reading=45.3, day=2)

    words = said(browser.get(page or address))

    content = words[words.index("Sign out") :]
    assert content.startswith("Sign out Irrigator IR-2 is out of use")
    assert "Too warm a stimulus burns" in content


def test_the_newest_check_stands_first(clinic: Any, browser: Any, address: str, check: Any) -> None:
    check(clinic, reading=44.2, day=1)
    check(clinic, reading=43.8, day=4)

    words = said(browser.get(address))

    assert words.index("4 March 2026") < words.index("1 March 2026")


def test_the_list_says_the_newest_check_of_each_stimulus(
    clinic: Any, browser: Any, check: Any
) -> None:
    check(clinic, reading=45.2, day=1)
    check(clinic, reading=44.1, day=2)
    check(clinic, reading=31.0, day=3, stimulus="cool", set_temperature_c=30.0)

    words = said(browser.get("/irrigators/"))

    assert "2 March 2026, 08:00: within tolerance 3 March 2026, 08:00: out of tolerance" in words
    assert "1 March 2026" not in words


def test_a_check_with_faults_shows_them_all_and_keeps_the_input(
    clinic: Any, browser: Any, address: str
) -> None:
    response = browser.post(
        address, {"stimulus": "warm", "set_temperature_c": "30", "reading_c": "hot"}
    )

    page = response.content.decode()
    assert response.status_code == 422
    assert 'id="f-warm-reading-c-problem"' in page
    assert 'value="hot"' in page
    assert not all_of(clinic, TemperatureCheck)


def test_a_check_can_be_withdrawn_by_a_coordinator_alone(
    clinic: Any, browser: Any, make_member: Any, browser_of: Any, check: Any
) -> None:
    recorded = check(clinic, reading=44.2).check
    withdraw = f"/temperature-checks/{recorded.id}/withdraw/"

    refused = browser_of(make_member("tester", clinic)).post(withdraw)
    still = all_of(clinic, TemperatureCheck)[0].withdrawn_at
    done = browser.post(withdraw, follow=True)

    assert refused.status_code == 403
    assert still is None
    assert "The check is withdrawn" in said(done)
    assert all_of(clinic, TemperatureCheck)[0].withdrawn_at is not None


@pytest.mark.parametrize(
    ("page", "more", "model"),
    [
        ("/testers/", {"experience_band": "1_5y"}, Tester),
        ("/irrigators/", {}, Irrigator),
        ("/devices/", {"kind": "recorders"}, Recorder),
        ("/devices/", {"kind": "thermometers", "uncertainty_c": "0.1"}, Thermometer),
    ],
)
def test_a_coordinator_adds_one_and_a_code_in_use_is_refused(
    page: str, more: dict[str, str], model: Any, clinic: Any, browser: Any
) -> None:
    added = browser.post(page, {"code": "NW-5", **more}, follow=True)
    again = browser.post(page, {"code": "NW-5", **more})

    assert "NW-5" in said(added)
    assert again.status_code == 409
    assert "This code is in use already." in said(again)
    assert [one.code for one in all_of(clinic, model)].count("NW-5") == 1


def test_a_name_is_not_taken_as_a_testers_code_nor_shown_again(clinic: Any, browser: Any) -> None:
    response = browser.post("/testers/", {"code": "Jane Doe"})

    assert response.status_code == 422
    assert "Jane" not in response.content.decode()
    assert len(all_of(clinic, Tester)) == 2


def test_a_tester_leaves_and_a_recorder_is_retired(clinic: Any, browser: Any) -> None:
    tester = next(one for one in all_of(clinic, Tester) if one.code == "T-07")
    (recorder,) = all_of(clinic, Recorder)

    browser.post(f"/testers/{tester.id}/", {"active_to": "2026-03-01"})
    browser.post(f"/devices/recorders/{recorder.id}/", {"retired_at": "2026-03-05"})

    words = said(browser.get("/testers/")) + said(browser.get("/devices/"))
    assert "1 March 2026" in words
    assert "5 March 2026" in words


def test_a_last_day_before_the_first_is_refused_with_both_kept(clinic: Any, browser: Any) -> None:
    tester = all_of(clinic, Tester)[0]
    dates = {"active_from": "2026-03-05", "active_to": "2026-03-01"}

    response = browser.post(f"/testers/{tester.id}/", dates)

    assert response.status_code == 422
    for date in dates.values():
        assert f'value="{date}"' in response.content.decode()
    assert "The last day lies before the first." in said(response)


def test_a_bad_reading_not_yet_confirmed_is_still_said_to_whoever_comes_later(
    clinic: Any, browser: Any, address: str, check: Any
) -> None:
    check(clinic, reading=45.2, day=2)

    words, listed = said(browser.get(address)), said(browser.get("/irrigators/"))

    content = words[words.index("Sign out") :]
    assert content.startswith("Sign out The last warm check was out of tolerance It read 45.2 °C")
    assert "irrigate nobody with it before a second reading" in content
    assert "in service; a second reading is asked for" in listed


def test_a_good_second_reading_takes_the_warning_away(
    clinic: Any, browser: Any, address: str, check: Any
) -> None:
    check(clinic, reading=45.2, day=2)
    check(clinic, reading=44.1, day=3)

    assert "The last warm check" not in said(browser.get(address))
    assert "a second reading is asked for" not in said(browser.get("/irrigators/"))


@pytest.mark.parametrize(("due", "is_past"), [("2020-01-01", True), ("2999-01-01", False)])
def test_a_calibration_that_is_overdue_is_said_to_be(due: str, is_past: bool, browser: Any) -> None:
    browser.post("/devices/", {"kind": "thermometers", "code": "TH-9", "calibration_due": due})

    words = said(browser.get("/devices/"))

    assert f"1 January {due[:4]}" in words
    assert (f"1 January {due[:4]}, past" in words) is is_past
