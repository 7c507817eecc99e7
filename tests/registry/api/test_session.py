"""The pages' session at the API: what changes something must prove that it was meant."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.middleware.csrf import get_token
from django.test import Client, RequestFactory

from tests.registry.api.conftest import CSV_HEADER, CSV_ROW

pytestmark = pytest.mark.django_db
TESTERS = "/api/v1/testers/"


@pytest.fixture
def browser(make_clinic, make_member, browser_of):
    client = browser_of(make_member("coordinator", make_clinic()))
    strict = Client(enforce_csrf_checks=True)
    strict.cookies = client.cookies
    return strict


def test_a_session_reads_without_more(browser):
    assert browser.get(TESTERS).status_code == 200


def test_a_session_changes_nothing_without_the_token_of_its_page(browser):
    response = browser.post(TESTERS, {"code": "T-40"}, content_type="application/json")

    assert (response.status_code, response.json()["code"]) == (403, "csrf_refused")
    assert len(browser.get(TESTERS).json()["results"]) == 2


def test_a_session_changes_with_the_token_of_its_page(browser):
    request = RequestFactory().get("/")
    token = get_token(request)
    browser.cookies["csrftoken"] = request.META["CSRF_COOKIE"]

    response = browser.post(
        TESTERS,
        {"code": "T-40"},
        content_type="application/json",
        headers={"X-CSRFToken": token},
    )

    assert response.status_code == 201


def test_a_file_sent_from_a_page_is_taken_in(browser):
    request = RequestFactory().get("/")
    token = get_token(request)
    browser.cookies["csrftoken"] = request.META["CSRF_COOKIE"]
    file = SimpleUploadedFile("v.csv", (CSV_HEADER + CSV_ROW.format("AAA")).encode())

    response = browser.post("/api/v1/uploads/", {"file": file}, headers={"X-CSRFToken": token})

    assert (response.status_code, response.json()["visits_created"]) == (202, 1)


def test_what_was_seen_is_not_kept_by_a_cache(scene):
    assert scene.clients["coordinator"].get(TESTERS)["Cache-Control"] == "no-store"
