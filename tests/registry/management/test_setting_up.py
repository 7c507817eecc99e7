"""A network, a clinic and its people from the command line, and then a first visit."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from registry.access.tokens import token_membership
from registry.models import Clinic, Membership, NetworkAgreement
from tests.conftest import NOW

pytestmark = pytest.mark.django_db

AGREEMENT = (
    *("--controller", "Council", "--legal-basis", "written agreement", "--terms", "terms 1"),
    *("--contact", "the office", "--from", "2026-01-01"),
)


def run(*arguments) -> str:
    said = StringIO()
    call_command(*arguments, stdout=said)
    return said.getvalue()


@pytest.fixture
def clinic():
    run("add_network", "NW", "--name", "Network of the north", *AGREEMENT)
    run("add_clinic", "CL-A", "--network", "NW", "--name", "A", "--time-zone", "Europe/Rome")
    return Clinic.objects.get(code="CL-A")


@pytest.fixture(autouse=True)
def _password(monkeypatch):
    monkeypatch.setattr("getpass.getpass", lambda prompt: "a long enough secret")


def test_a_network_comes_with_its_agreement(clinic):
    agreement = NetworkAgreement.objects.get()

    assert agreement.network == clinic.network
    assert agreement.in_force_from.isoformat() == "2026-01-01"


def test_a_member_gets_a_role_and_a_token_that_works(clinic):
    said = run("add_member", "kim", "--role", "coordinator", "--clinic", "CL-A", "--token")

    member = Membership.objects.get()
    assert (member.role, member.clinic) == ("coordinator", clinic)
    assert member.user.check_password("a long enough secret")
    assert token_membership(said.splitlines()[-1], at=NOW.replace(year=2026)).pk == member.pk


def test_a_weak_password_is_refused(clinic, monkeypatch):
    monkeypatch.setattr("getpass.getpass", lambda prompt: "short")

    with pytest.raises(CommandError, match="too short"):
        run("add_member", "kim", "--role", "coordinator", "--clinic", "CL-A")

    assert not Membership.objects.exists()


def test_a_role_without_its_place_is_refused(clinic):
    with pytest.raises(CommandError, match="needs a clinic"):
        run("add_member", "kim", "--role", "coordinator")
    with pytest.raises(CommandError, match="does not fit"):
        run("add_member", "kim", "--role", "tester", "--clinic", "CL-A")


def test_a_time_zone_that_is_none_and_a_clinic_twice_are_refused(clinic):
    with pytest.raises(CommandError, match="time zone"):
        run("add_clinic", "CL-B", "--network", "NW", "--name", "B", "--time-zone", "Moon/North")
    with pytest.raises(CommandError, match="already"):
        run("add_clinic", "CL-A", "--network", "NW", "--name", "A", "--time-zone", "UTC")


def test_an_agreement_that_ends_before_it_starts_is_refused(clinic):
    with pytest.raises(CommandError, match="may not end first"):
        run("add_network", "NW", *AGREEMENT, "--to", "2025-12-31")
