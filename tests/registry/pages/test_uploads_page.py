"""Sending a file by hand and reading its report of problems."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from registry.access.scope import clinic_scope
from registry.models import Upload, Visit
from tests.conftest import TEST_ACTOR
from tests.registry.pages.conftest import said

pytestmark = pytest.mark.django_db

HEADER = (
    "visit_ref,subject_ref,visit_date,age_years,tester,irrigator,medium,"
    "ear,stimulus,set_temperature_c,peak_spv"
)
GOOD = "V-BCDFG,S-BCDFG,2026-03-02,50,T-07,IR-2,air,right,warm,50,20"
BAD = "V-HJKMN,S-HJKMN,2026-03-02,150,T-99,IR-2,air,right,wrm,50,20"


@pytest.fixture
def clinic(make_clinic: Any) -> Any:
    return make_clinic()


@pytest.fixture
def browser(clinic: Any, make_member: Any, browser_of: Any) -> Any:
    return browser_of(make_member("coordinator", clinic))


def send(browser: Any, *lines: str, **options: str) -> Any:
    text = "\n".join((HEADER, *lines, ""))
    file = SimpleUploadedFile("visits.csv", text.encode())
    return browser.post("/uploads/", {"file": file, "policy": "keep_valid"} | options, follow=True)


def count(clinic: Any, model: Any, **wanted: Any) -> int:
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        return int(model.objects.filter(**wanted).count())


def test_a_file_with_a_bad_row_is_reported_by_row_column_code_and_what_to_do(
    clinic: Any, browser: Any
) -> None:
    words = said(send(browser, GOOD, BAD))

    assert "visits new 1" in words
    assert "visits refused 1" in words
    assert "3 problems in the file" in words
    assert "3 age_years out_of_range The number is outside the range of this field." in words
    assert "3 tester unknown_tester The clinic has no tester with this code." in words
    assert count(clinic, Visit) == 1


def test_the_report_can_be_had_as_a_table(clinic: Any, browser: Any) -> None:
    send(browser, GOOD, BAD)
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        upload = Upload.objects.get()

    response = browser.get(f"/uploads/{upload.id}/problems.csv")

    lines = response.content.decode().splitlines()
    assert lines[0] == "row,column,code,detail"
    assert sorted(line.split(",")[2] for line in lines[1:]) == [
        "not_in_list",
        "out_of_range",
        "unknown_tester",
    ]


def test_all_or_nothing_stores_nothing_and_says_so(clinic: Any, browser: Any) -> None:
    words = said(send(browser, GOOD, BAD, policy="all_or_nothing"))

    assert "refused: nothing was stored" in words
    assert count(clinic, Visit) == 0


def test_an_unknown_column_refuses_the_file_without_repeating_its_name(
    clinic: Any, browser: Any
) -> None:
    file = SimpleUploadedFile("v.csv", b"visit_ref,Jane Doe\nV-BCDFG,1\n")

    response = browser.post("/uploads/", {"file": file, "policy": "keep_valid"})

    assert response.status_code == 422
    assert "The file was refused: nothing was stored" in said(response)
    assert "Jane" not in response.content.decode()
    assert count(clinic, Upload) == 0


def test_the_same_file_again_leads_to_the_first_report(clinic: Any, browser: Any) -> None:
    send(browser, GOOD)

    words = said(send(browser, GOOD))

    assert "This file was sent before" in words
    assert count(clinic, Upload) == 1


def test_undoing_asks_once_more_and_then_withdraws_the_visits(clinic: Any, browser: Any) -> None:
    send(browser, GOOD)
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        address = f"/uploads/{Upload.objects.get().id}/undo/"

    asked = said(browser.get(address))
    before = count(clinic, Visit, withdrawn_at=None)
    done = said(browser.post(address, follow=True))

    assert "Undo this upload?" in asked
    assert before == 1
    assert "Undone; visits withdrawn: 1." in done
    assert count(clinic, Visit, withdrawn_at=None) == 0


def test_purging_removes_the_visits_and_the_record(clinic: Any, browser: Any) -> None:
    send(browser, GOOD, BAD)
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        address = f"/uploads/{Upload.objects.get().id}/purge/"

    words = said(browser.post(address, follow=True))

    assert "All trace of the file is removed." in words
    assert count(clinic, Visit) == 0
    assert count(clinic, Upload) == 0


def test_a_file_that_is_too_large_is_refused_as_such(
    clinic: Any, browser: Any, settings: Any
) -> None:
    settings.UPLOAD_MAX_BYTES = 100

    response = send(browser, GOOD)

    assert response.status_code == 413
    assert "The file is too large" in said(response)
    assert count(clinic, Upload) == 0


def test_without_a_file_the_page_asks_for_one(browser: Any) -> None:
    response = browser.post("/uploads/", {"policy": "keep_valid"})

    assert response.status_code == 400
    assert "Choose a file first." in said(response)


def test_only_a_coordinator_may_add_what_the_file_names(
    clinic: Any, make_member: Any, browser_of: Any, browser: Any
) -> None:
    uploader = browser_of(make_member("uploader", clinic))
    new_tester = GOOD.replace("T-07", "T-55")

    refused = send(uploader, new_tester, create_missing="true")
    added = send(browser, new_tester, create_missing="true")

    assert refused.status_code == 403
    assert "visits new 1" in said(added)


@pytest.mark.parametrize("name", ["visits-long.csv", "visits-wide.csv"])
def test_a_blank_table_holds_a_header_and_no_row(name: str, browser: Any) -> None:
    response = browser.get(f"/uploads/templates/{name}")

    lines = response.content.decode().splitlines()
    assert len(lines) == 1
    assert lines[0].startswith("visit_ref,subject_ref,visit_date")
    assert "attachment" in response["Content-Disposition"]


@pytest.mark.parametrize("name", ["visits-long.schema.json", "visits-wide.schema.json"])
def test_a_table_is_described_with_every_column_of_its_blank(name: str, browser: Any) -> None:
    blank = browser.get(f"/uploads/templates/{name.replace('.schema.json', '.csv')}")

    described = browser.get(f"/uploads/templates/{name}").json()

    assert [one["name"] for one in described["fields"]] == blank.content.decode().strip().split(",")


def test_a_template_of_another_name_is_not_there(browser: Any) -> None:
    assert browser.get("/uploads/templates/settings.py").status_code == 404
