"""A person of several memberships acts under the one that was chosen, or under none."""

from __future__ import annotations

import pytest

from registry.access.scope import clinic_scope
from registry.models import Membership, Visit
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db


@pytest.fixture
def two_places(make_clinic, make_member, browser_of):
    """A coordinator of two clinics who chose the second; that membership is revoked then."""
    first = make_member("coordinator", make_clinic("CL-A"))
    second = Membership.objects.create(
        user=first.user,
        role="coordinator",
        clinic=make_clinic("CL-B"),
        granted_at=NOW,
        granted_by="test",
    )
    browser = browser_of(second)
    second.revoked_at, second.revoked_by = NOW, "test"
    second.save()
    return first, browser


def test_after_the_chosen_one_is_revoked_a_page_asks_which_one_to_act_under(two_places):
    _, browser = two_places

    response = browser.get("/visits/")

    assert (response.status_code, response["Location"]) == (302, "/membership/")


def test_what_was_typed_for_the_revoked_clinic_is_not_stored_at_another(two_places, visit_payload):
    first, browser = two_places

    answer = browser.post("/api/v1/visits/", visit_payload(), content_type="application/json")

    assert answer.status_code == 401
    with clinic_scope([first.clinic_id], by=TEST_ACTOR):
        assert Visit.objects.count() == 0


def test_choosing_again_opens_the_other_clinic(two_places):
    first, browser = two_places

    browser.post("/membership/", {"membership": first.pk})

    assert browser.get("/visits/").status_code == 200


def test_a_session_that_names_a_strangers_membership_opens_nothing(
    make_clinic, make_member, browser_of
):
    own, strangers = (make_member("coordinator", make_clinic(code)) for code in ("CL-A", "CL-B"))
    browser = browser_of(own)
    session = browser.session
    session["membership_id"] = strangers.pk
    session.save()

    assert browser.get("/visits/")["Location"] == "/membership/"


def test_the_membership_of_a_stranger_is_neither_offered_nor_taken(
    make_clinic, make_member, browser_of
):
    own, strangers = (make_member("coordinator", make_clinic(code)) for code in ("CL-A", "CL-B"))
    browser = browser_of(own)

    answer = browser.post("/membership/", {"membership": strangers.pk})

    assert "CL-B" not in answer.content.decode()
    assert browser.session["membership_id"] == own.pk
