"""Invented results never mix with real ones."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from registry.access.scope import clinic_scope
from registry.demo import scenario
from registry.demo_service.network import NotADemo, check_only_the_demo, network_set_up
from registry.models import Clinic, Irrigator, Network, Tester
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db

FILL = ("--until", "2026-03-01", "--size", "small")


def test_a_database_with_another_network_is_left_alone(make_network, settings):
    settings.DEMO = True
    make_network("REAL")

    with pytest.raises(CommandError, match="not the demo's"):
        call_command("demo_fill", *FILL, stdout=StringIO())

    assert list(Network.objects.values_list("code", flat=True)) == ["REAL"]


def test_outside_the_demo_nothing_is_filled(settings):
    settings.DEMO = False

    with pytest.raises(CommandError, match="Only the demo"):
        call_command("demo_fill", *FILL, stdout=StringIO())

    assert not Network.objects.exists()


def test_the_network_is_set_up_once_with_all_its_rosters():
    assert not check_only_the_demo(scenario())

    network_set_up(scenario(), until=NOW.date(), at=NOW)

    assert check_only_the_demo(scenario())
    clinics = list(Clinic.objects.values_list("id", flat=True))
    with clinic_scope(clinics, by=TEST_ACTOR):
        assert len(clinics) == len(scenario().clinics) >= 8
        assert Tester.objects.count() >= 30
        assert Irrigator.objects.count() >= 20
    Network.objects.create(code="REAL", name="another")
    with pytest.raises(NotADemo):
        check_only_the_demo(scenario())
