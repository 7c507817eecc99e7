"""What a clinic does in a browser: enter a visit, send a file; nothing breaks the policy."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.select import Select

from tests.conftest import NOW, TEST_ACTOR
from tests.journeys.conftest import next_page
from tests.registry.pages import worlds

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True, databases=["default", "owner"]),
]

HEADER = (
    "visit_ref,subject_ref,visit_date,age_years,tester,irrigator,medium,"
    "ear,stimulus,set_temperature_c,peak_spv\n"
)
ROWS = (
    "V-BCDFG,S-BCDFG,2026-03-02,50,T-07,IR-2,air,right,warm,50,20\n"
    "V-HJKMN,S-HJKMN,2026-03-02,150,T-07,IR-2,air,right,warm,50,20\n"
)


@pytest.fixture
def clinic(make_clinic: Any) -> Any:
    return make_clinic()


@pytest.fixture
def at_work(clinic: Any, make_member: Any, sign_in: Any, browser: Any) -> Any:
    """The browser of a coordinator who has just signed in."""
    sign_in(make_member("coordinator", clinic))
    return browser


def type_in(browser: Any, **texts: str) -> None:
    for name, text in texts.items():
        browser.find_element(By.NAME, name.replace("__", ".")).send_keys(text)


def choose(browser: Any, **codes: str) -> None:
    for name, code in codes.items():
        Select(browser.find_element(By.NAME, name)).select_by_value(code)


def press(browser: Any, words: str) -> None:
    """Press a button and wait until its page has gone."""
    with next_page(browser):
        browser.find_element(By.XPATH, f"//main//button[normalize-space()='{words}']").click()


def follow(browser: Any, words: str) -> None:
    with next_page(browser):
        browser.find_element(By.LINK_TEXT, words).click()


def complaints(browser: Any) -> list[str]:
    """Whatever the console said; a breach of the content security policy is said there."""
    return [entry["message"] for entry in browser.get_log("browser")]


def words(browser: Any) -> str:
    return str(browser.find_element(By.TAG_NAME, "main").text)


def test_a_visit_is_entered_with_new_codes_and_its_page_says_the_result(at_work: Any) -> None:
    browser = at_work
    follow(browser, "Enter a visit")
    type_in(browser, age_years="54")
    press(browser, "Make new codes")
    date = browser.find_element(By.NAME, "visit_date")
    browser.execute_script("arguments[0].value = '2026-03-02'", date)
    choose(browser, tester="T-07", irrigator="IR-2", medium="water_open")
    type_in(browser, warm_temperature_c="44", cool_temperature_c="30")
    for place, peak in enumerate(("28", "14", "20", "10")):
        browser.find_element(By.NAME, f"irrigations.{place}.peak_spv").send_keys(peak)

    press(browser, "Store this visit")

    # 100 * (28 + 20 - 14 - 10) / 72 = 33.3 (Jongkees et al. 1962).
    assert "The visit is stored." in words(browser)
    assert "33 % lower on the left" in words(browser)
    assert "54 years" in words(browser)
    assert not complaints(browser)


def test_a_fault_is_linked_to_its_input_and_nothing_typed_is_lost(at_work: Any) -> None:
    browser = at_work
    follow(browser, "Enter a visit")
    type_in(browser, age_years="150")
    browser.find_element(By.NAME, "irrigations.2.peak_spv").send_keys("fast")

    press(browser, "Store this visit")
    browser.find_element(By.LINK_TEXT, "Age").click()

    assert browser.switch_to.active_element.get_attribute("name") == "age_years"
    assert browser.current_url.endswith("#f-age-years")
    age = browser.find_element(By.NAME, "age_years")
    assert age.get_attribute("value") == "150"
    assert age.get_attribute("aria-invalid") == "true"
    peak = browser.find_element(By.NAME, "irrigations.2.peak_spv")
    assert peak.get_attribute("value") == "fast"


def test_a_file_with_one_bad_row_leads_to_its_report(at_work: Any, tmp_path: Path) -> None:
    browser = at_work
    file = tmp_path / "visits.csv"
    file.write_text(HEADER + ROWS)
    follow(browser, "Uploads")
    browser.find_element(By.NAME, "file").send_keys(str(file))

    press(browser, "Send the file")

    assert "1 problem in the file" in words(browser)
    row = browser.find_element(By.CSS_SELECTOR, "table tbody tr").text
    assert row.startswith("3 age_years out_of_range The number is outside the range")
    assert not complaints(browser)


def test_a_temperature_check_takes_a_reading_and_one_press(
    at_work: Any, clinic: Any, live_server: Any
) -> None:
    browser = at_work
    follow(browser, "Irrigators")
    follow(browser, "IR-2")
    browser.find_element(By.ID, "f-warm-set-temperature-c").send_keys("44")
    browser.find_element(By.ID, "f-warm-reading-c").send_keys("44.2")
    press(browser, "Record this reading")

    browser.find_element(By.ID, "f-warm-reading-c").send_keys("45.1")
    press(browser, "Record this reading")

    assert "Recorded: 45.1 °C, out of tolerance." in words(browser)
    assert "irrigate nobody with it before a second reading" in words(browser)
    assert not complaints(browser)


def test_no_page_has_an_error_in_its_console_or_scrolls_sideways_on_a_phone(
    at_work: Any, clinic: Any, live_server: Any, visit_payload: Any
) -> None:
    from registry.access.scope import clinic_scope
    from registry.intake.submit import visit_submit

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        visit_id = visit_submit(
            clinic=clinic,
            data=visit_payload(**worlds.whole()),
            by=TEST_ACTOR,
            at=NOW,
            via="api",
        ).visit_id
    own = [f"/visits/{visit_id}/{more}" for more in ("", "amend/", "withdraw/")]
    pages = ("/", "/visits/", "/visits/new/", "/uploads/", "/irrigators/", "/testers/")
    at_work.set_window_size(390, 844)

    for page in (*pages, "/devices/", "/help/", "/membership/", *own):
        at_work.get(live_server.url + page)
        at_work.execute_script("document.querySelectorAll('details').forEach(d => d.open = true)")

        assert not complaints(at_work), page
        wide = at_work.execute_script("return document.documentElement.scrollWidth")
        shown = at_work.execute_script("return document.documentElement.clientWidth")
        assert wide <= shown, page


def test_the_keyboard_alone_reaches_the_content_and_the_first_door(at_work: Any) -> None:
    browser = at_work
    body = browser.find_element(By.TAG_NAME, "body")

    body.send_keys(Keys.TAB)
    skip = browser.switch_to.active_element
    reached = skip.get_attribute("textContent")
    skip.send_keys(Keys.ENTER)
    browser.switch_to.active_element.send_keys(Keys.TAB)

    assert reached == "Skip to the content"
    assert browser.switch_to.active_element.text == "Enter a visit"
