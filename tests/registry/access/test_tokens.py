"""Tokens: shown once, kept as a digest, expiring, revocable."""

from __future__ import annotations

from datetime import timedelta

import pytest

from registry.access.scope import clinic_scope
from registry.access.tokens import TokenRefused, token_issue, token_membership
from registry.models import ApiToken, AuditEvent
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db


@pytest.fixture
def member(make_clinic, make_member):
    return make_member("coordinator", make_clinic())


def test_a_token_stands_for_its_membership(member):
    token = token_issue(membership=member, by=TEST_ACTOR, created_at=NOW)

    assert token_membership(token, at=NOW).pk == member.pk


def test_the_secret_is_nowhere_in_the_database(member):
    token = token_issue(membership=member, by=TEST_ACTOR, created_at=NOW)

    stored = ApiToken.objects.get()
    secret = token.partition(".")[2]
    assert secret.encode() not in bytes(stored.digest)
    assert len(bytes(stored.digest)) == 32


@pytest.mark.parametrize(
    "spoil", [lambda t: t + "x", lambda t: t[:-1], lambda t: "x" + t, str.upper]
)
def test_a_token_that_is_not_quite_right_is_refused(member, spoil):
    token = token_issue(membership=member, by=TEST_ACTOR, created_at=NOW)

    with pytest.raises(TokenRefused):
        token_membership(spoil(token), at=NOW)


@pytest.mark.parametrize("text", ["", ".", "abc", "abc.", ".abc", "a.b.c"])
def test_what_is_no_token_is_refused(text):
    with pytest.raises(TokenRefused):
        token_membership(text, at=NOW)


def test_a_token_ends_at_its_expiry_and_not_before(member):
    token = token_issue(
        membership=member, by=TEST_ACTOR, created_at=NOW, lifetime=timedelta(days=1)
    )
    end = NOW + timedelta(days=1)

    assert token_membership(token, at=end - timedelta(seconds=1)).pk == member.pk
    with pytest.raises(TokenRefused):
        token_membership(token, at=end)


def test_a_revoked_token_is_refused_at_once(member):
    token = token_issue(membership=member, by=TEST_ACTOR, created_at=NOW)
    ApiToken.objects.update(revoked_at=NOW)

    with pytest.raises(TokenRefused):
        token_membership(token, at=NOW)


def test_a_token_ends_with_its_membership_and_with_its_person(member):
    token = token_issue(membership=member, by=TEST_ACTOR, created_at=NOW)
    member.user.is_active = False
    member.user.save()
    with pytest.raises(TokenRefused):
        token_membership(token, at=NOW)

    member.user.is_active = True
    member.user.save()
    member.revoked_at, member.revoked_by = NOW, "test"
    member.save()
    with pytest.raises(TokenRefused):
        token_membership(token, at=NOW)


def test_a_token_of_an_older_key_works_until_the_key_is_gone(member, settings):
    settings.DIGEST_KEYS = f"1:{'a' * 32}"
    token = token_issue(membership=member, by=TEST_ACTOR, created_at=NOW)

    settings.DIGEST_KEYS = f"1:{'a' * 32},2:{'b' * 32}"
    assert token_membership(token, at=NOW).pk == member.pk

    settings.DIGEST_KEYS = f"2:{'b' * 32}"
    with pytest.raises(TokenRefused):
        token_membership(token, at=NOW)


def test_a_token_that_is_given_out_stands_in_the_audit_trail_without_its_secret(member):
    token = token_issue(membership=member, by=TEST_ACTOR, created_at=NOW)

    with clinic_scope([member.clinic_id], by=TEST_ACTOR):
        event = AuditEvent.objects.get(action="token.issued")
    assert (event.actor, event.detail) == ("test", {"membership": member.pk})
    assert not any(part in f"{event.object_id} {event.detail}" for part in token.split("."))
