"""What holds for every page: policy, landmarks, demo note, errors in the house's own words."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from tests.registry.pages import worlds
from tests.registry.pages.conftest import said

pytestmark = pytest.mark.django_db

PLAIN = (
    "/",
    "/membership/",
    "/help/",
    "/visits/",
    "/visits/new/",
    "/uploads/",
    "/irrigators/",
    "/testers/",
    "/devices/",
    "/nothing-here/",
)
TEMPLATES = sorted(Path("registry/templates").rglob("*.html"))


@pytest.fixture
def pages(make_clinic: Any, store: Any, make_member: Any, browser_of: Any) -> list[Any]:
    """Every kind of page, sign-in and errors among them."""
    clinic = make_clinic()
    visit_id = store(clinic, **worlds.whole())
    browser = browser_of(make_member("coordinator", clinic))
    own = [f"/visits/{visit_id}/{more}" for more in ("", "amend/", "withdraw/")]
    return [browser.get(one) for one in (*PLAIN, *own)] + [Client().get("/sign-in/")]


def test_no_page_holds_inline_style_or_script(pages: list[Any]) -> None:
    for page in pages:
        text = page.content.decode()
        assert not re.search(r"<style|\sstyle=|\son[a-z]+=|javascript:", text)
        assert "<script" not in text


def test_every_page_says_its_policy_and_loads_nothing_from_elsewhere(pages: list[Any]) -> None:
    for page in pages:
        policy = page["Content-Security-Policy"]
        assert policy.startswith("default-src 'none';")
        assert "unsafe" not in policy
        for address in re.findall(r'(?:src|href)="([^"]+)"', page.content.decode()):
            assert not re.match(r"(https?:)?//", address), address


def test_every_page_has_a_language_one_heading_a_skip_link_and_a_main_part(
    pages: list[Any],
) -> None:
    for page in pages:
        text = page.content.decode()
        assert '<html lang="en">' in text
        assert text.count("<h1") == 1
        assert '<a class="skip" href="#content">' in text
        assert '<main id="content"' in text


def test_every_id_stands_once_on_its_page_and_every_label_has_its_input(pages: list[Any]) -> None:
    for page in pages:
        text = page.content.decode()
        ids = re.findall(r'\sid="([^"]+)"', text)
        assert len(ids) == len(set(ids))
        for kind in ("for", "aria-describedby", "aria-labelledby"):
            for value in re.findall(rf'\s{kind}="([^"]+)"', text):
                assert set(value.split()) <= set(ids), (kind, value)


def test_every_input_has_a_label(pages: list[Any]) -> None:
    for page in pages:
        text = page.content.decode()
        labelled = set(re.findall(r'<label for="([^"]+)"', text))
        for tag in re.findall(r"<(?:input|select)\b[^>]*>", text):
            kind = re.search(r'type="(\w+)"', tag)
            if kind and kind[1] in ("hidden", "checkbox", "radio"):
                continue
            found = re.search(r'\sid="([^"]+)"', tag)
            assert found is not None
            assert found[1] in labelled, tag


def test_in_the_demo_every_page_says_that_the_data_are_invented(
    settings: Any, request: pytest.FixtureRequest
) -> None:
    settings.DEMO = True

    for page in request.getfixturevalue("pages"):
        words = said(page)
        assert "All data here are invented. Never enter a real result." in words


@pytest.mark.parametrize("is_demo", [True, False])
def test_the_page_for_programs_says_it_in_the_demo_alone(is_demo: bool, settings: Any) -> None:
    settings.DEMO = is_demo

    words = said(Client().get("/api/v1/docs/"))

    assert ("Never enter a real result." in words) is is_demo


def test_outside_the_demo_no_page_says_so(pages: list[Any]) -> None:
    for page in pages:
        assert "invented" not in said(page)


def test_no_page_of_the_signed_in_is_kept_by_a_shared_computer(pages: list[Any]) -> None:
    for page in pages[:-1]:
        assert page["Cache-Control"] == "no-store"


@pytest.mark.parametrize("template", TEMPLATES, ids=[str(one) for one in TEMPLATES])
def test_no_template_marks_text_as_safe_or_turns_escaping_off(template: Path) -> None:
    text = template.read_text()

    assert not re.search(r"\|safe\b|autoescape|mark_safe", text)


@pytest.mark.parametrize(
    ("address", "status", "heading"),
    [
        ("/nothing-here/", 404, "There is nothing here"),
        ("/visits/new/", 403, "You may not do this"),
    ],
)
def test_an_error_is_said_in_the_houses_own_words(
    address: str, status: int, heading: str, make_clinic: Any, see: Callable[..., Any]
) -> None:
    response = see(make_clinic(), address, role="tester")

    assert response.status_code == status
    assert heading in said(response)


def test_a_form_from_another_session_is_refused_in_the_houses_own_words() -> None:
    response = Client(enforce_csrf_checks=True).post("/sign-in/", {"username": "a"})

    assert response.status_code == 403
    assert "The form was too old" in said(response)


def test_a_fault_of_ours_says_that_nothing_was_half_stored(
    make_clinic: Any, make_member: Any, monkeypatch: Any, settings: Any
) -> None:
    def broken(*args: object, **kwargs: object) -> None:
        raise RuntimeError("broken on purpose")

    settings.DEMO = True
    monkeypatch.setattr("registry.pages.visit_list.visit_bodies", broken)
    member = make_member("coordinator", make_clinic())
    browser = Client(raise_request_exception=False)
    browser.force_login(member.user)

    response = browser.get("/visits/")

    assert response.status_code == 500
    assert "nothing was half stored" in said(response)
    assert "All data here are invented." in said(response)
    assert "broken on purpose" not in response.content.decode()


class TestSigningIn:
    @pytest.fixture
    def member(self, make_clinic: Any, make_member: Any) -> Any:
        member = make_member("coordinator", make_clinic())
        member.user.set_password("a long password for a test")
        member.user.save()
        return member

    def test_the_right_password_leads_home(self, member: Any) -> None:
        browser = Client()

        response = browser.post(
            "/sign-in/",
            {"username": member.user.username, "password": "a long password for a test"},
            follow=True,
        )

        assert "You act as coordinator at Clinic CL-A." in said(response)

    def test_a_wrong_password_and_an_unknown_name_get_one_and_the_same_answer(
        self, member: Any
    ) -> None:
        wrong, unknown = (
            Client().post("/sign-in/", {"username": name, "password": "not it"})
            for name in (member.user.username, "nobody-of-that-name")
        )

        def without_name(response: Any) -> str:
            text = re.sub(
                r'name="csrfmiddlewaretoken" value="[^"]*"', "", response.content.decode()
            )
            return re.sub(r'name="username"[^>]*>', "", text)

        assert wrong.status_code == unknown.status_code == 200
        assert "do not fit together" in said(wrong)
        assert without_name(wrong) == without_name(unknown)

    def test_a_person_of_several_memberships_chooses_and_may_change(
        self, member: Any, make_clinic: Any
    ) -> None:
        from registry.models import Membership
        from tests.conftest import NOW

        second = Membership.objects.create(
            user=member.user,
            role="site_lead",
            clinic=make_clinic("CL-B"),
            granted_at=NOW,
            granted_by="test",
        )
        browser = Client()

        signed_in = browser.post(
            "/sign-in/",
            {"username": member.user.username, "password": "a long password for a test"},
        )
        chosen = browser.post("/membership/", {"membership": second.pk}, follow=True)

        assert signed_in["Location"] == "/membership/"
        assert "You act as site lead at Clinic CL-B." in said(chosen)

    def test_a_membership_of_somebody_else_cannot_be_chosen(
        self, member: Any, make_clinic: Any, make_member: Any, browser_of: Any
    ) -> None:
        stranger = make_member("coordinator", make_clinic("CL-B"))
        browser = browser_of(member)

        browser.post("/membership/", {"membership": stranger.pk})

        assert "Clinic CL-B" not in said(browser.get("/"))

    def test_a_person_without_a_membership_is_told_so(self, member: Any, browser_of: Any) -> None:
        from tests.conftest import NOW

        browser = browser_of(member)
        member.revoked_at, member.revoked_by = NOW, "test"
        member.save()

        response = browser.get("/visits/", follow=True)

        assert "no membership in force" in said(response)

    def test_signing_out_needs_a_post_and_ends_the_session(
        self, member: Any, browser_of: Any
    ) -> None:
        browser = browser_of(member)

        browser.post("/sign-out/")

        assert browser.get("/")["Location"] == "/sign-in/?next=/"
