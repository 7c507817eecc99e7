"""A real browser: Chromium, headless, with a profile of its own that goes away with it."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--hide-scrollbars",
)
PASSWORD = "a long password for a test"


def _needs(name: str) -> str:
    """The path of a program; without it the journey is skipped, on a build machine it fails."""
    path = shutil.which(name)
    if path is None:
        if os.environ.get("CI"):
            pytest.fail(f"{name} is not installed")
        pytest.skip(f"{name} is not installed")
    return path


@contextmanager
def next_page(browser: Any) -> Iterator[None]:
    """Do something that leads to another page, and wait until that one is there.

    Without it a test reads the old page now and then.
    """
    from selenium.webdriver.common.by import By
    from selenium.webdriver.support.expected_conditions import staleness_of
    from selenium.webdriver.support.wait import WebDriverWait

    before = browser.find_element(By.TAG_NAME, "html")
    yield
    WebDriverWait(browser, 10).until(staleness_of(before))
    WebDriverWait(browser, 10).until(
        lambda one: one.execute_script("return document.readyState") == "complete"
    )


@pytest.fixture
def browser(tmp_path: Path) -> Iterator[Any]:
    """A Chromium that records every message of its console."""
    from selenium.common.exceptions import SessionNotCreatedException
    from selenium.webdriver import Chrome, ChromeOptions
    from selenium.webdriver.chrome.service import Service

    # Both paths are said, so nothing is looked for on the network.
    chromium, chromedriver = _needs("chromium"), _needs("chromedriver")

    def start(profile: Path) -> Any:
        options = ChromeOptions()
        options.binary_location = chromium
        for flag in (*FLAGS, f"--user-data-dir={profile}"):
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
        return Chrome(options=options, service=Service(chromedriver))

    try:
        driver = start(tmp_path / "profile")
    except SessionNotCreatedException:
        # A busy machine now and then starts Chromium too late for its driver; no page was
        # asked for yet, so a second start hides nothing.
        driver = start(tmp_path / "second-profile")
    driver.set_window_size(1280, 900)
    yield driver
    driver.quit()


@pytest.fixture
def sign_in(browser: Any, live_server: Any) -> Callable[[Any], None]:
    """Sign a membership's person in by name and password, as a person would."""
    from selenium.webdriver.common.by import By

    def enter(membership: Any) -> None:
        user = membership.user
        user.set_password(PASSWORD)
        user.save()
        browser.get(f"{live_server.url}/sign-in/")
        browser.find_element(By.NAME, "username").send_keys(user.username)
        browser.find_element(By.NAME, "password").send_keys(PASSWORD)
        with next_page(browser):
            browser.find_element(By.CSS_SELECTOR, "main button").click()

    return enter
