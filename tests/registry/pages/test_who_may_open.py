"""Three people at every page: the own clinic, another clinic, nobody."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse

from registry.access.scope import clinic_scope
from registry.models import Irrigator, Recorder, Tester, Upload, Visit
from registry.pages.urls import urlpatterns
from tests.conftest import NOW, TEST_ACTOR
from tests.registry.pages.conftest import said
from tests.registry.pages.worlds import whole

pytestmark = pytest.mark.django_db

OPEN = {"sign-in"}
OWN_PERSON = {"sign-out", "membership"}
POST_ONLY = {"codes", "temperature-check-withdraw", "sign-out"}
BELONG_TO_A_CLINIC = {
    "visit",
    "visit-amend",
    "visit-withdraw",
    "visit-beats",
    "upload",
    "upload-problems",
    "upload-undo",
    "upload-purge",
    "irrigator",
    "tester",
    "device",
}
NAMES = sorted(one.name for one in urlpatterns)


@pytest.fixture
def world(make_clinic: Callable[..., Any], store: Callable[..., Any], check: Any) -> dict[str, Any]:
    """A clinic with one of everything, another clinic, and the address of each page."""
    from registry.intake.uploads import upload_receive

    clinic, other = make_clinic("CL-A"), make_clinic("CL-B")
    visit_id = store(clinic, **whole())
    checked = check(clinic, reading=44.1).check
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        upload, _ = upload_receive(
            clinic=clinic, stream=io.BytesIO(b'{"visit_ref": "V-BAD"}\n'), by=TEST_ACTOR, at=NOW
        )
        places = {
            "visit_id": visit_id,
            "irrigation": "right_warm_1",
            "upload_id": upload.id,
            "irrigator_id": Irrigator.objects.get(clinic=clinic).id,
            "tester_id": Tester.objects.get(clinic=clinic, code="T-07").id,
            "check_id": checked.id,
            "kind": "recorders",
            "device_id": Recorder.objects.get(clinic=clinic).id,
            "name": "visits-long.csv",
        }
    addresses = {
        one.name: reverse(one.name, kwargs={name: places[name] for name in one.pattern.converters})
        for one in urlpatterns
    }
    return {"clinic": clinic, "other": other, "addresses": addresses}


@pytest.mark.parametrize("name", NAMES)
def test_the_own_clinic_opens_every_page(name: str, world: Any, see: Any) -> None:
    response = see(world["clinic"], world["addresses"][name])

    expected = 405 if name in POST_ONLY else 302 if name == "sign-in" else 200
    assert response.status_code == expected


@pytest.mark.parametrize("name", NAMES)
def test_another_clinic_is_not_told_what_exists(name: str, world: Any, see: Any) -> None:
    response = see(world["other"], world["addresses"][name])

    if name in BELONG_TO_A_CLINIC:
        assert response.status_code == 404
    assert "V-KQMPX" not in response.content.decode()
    assert "S-HTKQB" not in response.content.decode()


@pytest.mark.parametrize("name", NAMES)
def test_nobody_is_sent_to_sign_in(name: str, world: Any, browser_of: Any) -> None:
    address = world["addresses"][name]

    response = browser_of(None).get(address)

    if name in OPEN:
        assert response.status_code == 200
    elif name in POST_ONLY:
        assert response.status_code == 405
    else:
        assert response.status_code == 302
        assert response["Location"] == f"/sign-in/?next={address.replace('?', '%3F')}"


@pytest.mark.parametrize("name", ["visit-withdraw", "upload-undo", "upload-purge"])
def test_another_clinics_deed_changes_nothing(
    name: str, world: Any, make_member: Any, browser_of: Any
) -> None:
    browser = browser_of(make_member("coordinator", world["other"]))

    response = browser.post(world["addresses"][name])

    assert response.status_code == 404
    with clinic_scope([world["clinic"].pk], by=TEST_ACTOR):
        assert Visit.objects.filter(withdrawn_at=None).count() == 1
        assert Upload.objects.filter(undone_at=None).count() == 1


@pytest.mark.parametrize("name", ["visit-new", "visit-amend", "visit-withdraw", "upload-undo"])
def test_a_tester_may_read_and_change_nothing(name: str, world: Any, see: Any) -> None:
    response = see(world["clinic"], world["addresses"][name], role="tester")

    assert response.status_code == 403
    assert "You may not do this" in said(response)


def test_an_uploader_is_not_offered_to_add_codes_and_refused_when_trying(
    world: Any, make_member: Any, browser_of: Any
) -> None:
    browser = browser_of(make_member("uploader", world["clinic"]))

    page = browser.get(world["addresses"]["testers"])
    tried = browser.post(world["addresses"]["testers"], {"code": "T-99"})

    assert "Add a tester" not in said(page)
    assert tried.status_code == 403
    with clinic_scope([world["clinic"].pk], by=TEST_ACTOR):
        assert not Tester.objects.filter(code="T-99").exists()


def test_a_tester_sees_only_own_visits(world: Any, see: Any) -> None:
    own = see(world["clinic"], world["addresses"]["visits"], role="tester", tester="T-07")

    assert "V-KQMPX" in said(own)


def test_a_tester_does_not_see_the_visit_of_another_tester(world: Any, see: Any) -> None:
    opened = see(world["clinic"], world["addresses"]["visit"], role="tester", tester="T-08")

    assert opened.status_code == 404


def test_a_lead_sees_month_and_age_band_and_no_reference(
    world: Any, make_member: Any, browser_of: Any
) -> None:
    browser = browser_of(make_member("lead", world["clinic"].network))

    listed = browser.get(world["addresses"]["visits"])
    page = browser.get(world["addresses"]["visit"])

    for response in (listed, page):
        assert "March 2026" in said(response)
        for hidden in ("V-KQMPX", "S-HTKQB", "2 March", "2026-03-02", "09:10"):
            assert hidden not in response.content.decode()
    assert "50-54 years" in said(page)


def test_a_researcher_finds_no_visit(world: Any, make_member: Any, browser_of: Any) -> None:
    browser = browser_of(make_member("researcher", world["clinic"].network))

    assert browser.get(world["addresses"]["home"]).status_code == 200
    assert browser.get(world["addresses"]["visits"]).status_code == 403


def test_a_token_opens_no_page(world: Any, make_member: Any, client_of: Any) -> None:
    client = client_of(make_member("coordinator", world["clinic"]))

    response = client.get(world["addresses"]["visits"])

    assert response.status_code == 302
    assert response["Location"].startswith("/sign-in/")
