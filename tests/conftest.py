"""People, clinics and visits that tests ask for by name; all codes and places are invented."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.test import TransactionTestCase

from registry.access.scope import Actor, clinic_scope

# A plugin's fixture does not replace pytest-django's of the same name; a conftest's does.
from tests.database import django_db_setup as django_db_setup
from tests.database import owner_connection

NOW = datetime(2026, 3, 10, 12, 0, tzinfo=UTC)
TEST_ACTOR = Actor(name="test", role="operator", request_id="test")


def _empty_all_tables_as_owner(self: TransactionTestCase) -> None:
    """Empty every table as the owner: the application's role may not truncate."""
    with owner_connection() as owner:
        tables = owner.execute(
            "SELECT string_agg(quote_ident(tablename), ', ') FROM pg_tables"
            " WHERE schemaname = 'public' AND tablename <> 'django_migrations'"
        ).fetchone()[0]
        owner.execute(f"TRUNCATE {tables} RESTART IDENTITY CASCADE")


@pytest.fixture(scope="session", autouse=True)
def _flush_as_owner() -> Iterator[None]:
    before = TransactionTestCase._fixture_teardown
    TransactionTestCase._fixture_teardown = _empty_all_tables_as_owner  # type: ignore[method-assign]
    yield
    TransactionTestCase._fixture_teardown = before  # type: ignore[method-assign]


@pytest.fixture
def make_network() -> Callable[..., Any]:
    """A network with an agreement in force (``agreement=False``: without)."""
    from registry.models import Network, NetworkAgreement

    def make(code: str = "NW", *, agreement: bool = True) -> Network:
        network, _ = Network.objects.get_or_create(code=code, defaults={"name": f"Network {code}"})
        if agreement and not network.agreements.exists():
            NetworkAgreement.objects.create(
                network=network,
                controller="Council of the test network",
                legal_basis="written agreement",
                terms="terms 1",
                contact="the office",
                in_force_from=date(2020, 1, 1),
                recorded_at=NOW,
                recorded_by="test",
            )
        return network

    return make


@pytest.fixture
def make_clinic(make_network: Callable[..., Any]) -> Callable[..., Any]:
    """A clinic with tester T-07 and T-08, irrigator IR-2, recorder RC-1, thermometer TH-1."""
    from registry.models import Clinic, Irrigator, Recorder, Tester, Thermometer

    def make(code: str = "CL-A", *, network: Any = None, time_zone: str = "UTC") -> Clinic:
        clinic = Clinic.objects.create(
            code=code,
            name=f"Clinic {code}",
            network=network or make_network(),
            time_zone=time_zone,
        )
        with clinic_scope([clinic.pk], by=TEST_ACTOR):
            for tester in ("T-07", "T-08"):
                Tester.objects.create(clinic=clinic, code=tester, created_at=NOW)
            Irrigator.objects.create(clinic=clinic, code="IR-2", created_at=NOW)
            Recorder.objects.create(clinic=clinic, code="RC-1", created_at=NOW)
            Thermometer.objects.create(clinic=clinic, code="TH-1", created_at=NOW)
        return clinic

    return make


@pytest.fixture
def make_member() -> Callable[..., Any]:
    """A membership: ``make_member("coordinator", clinic)`` or ``make_member("lead", network)``."""
    from registry.models import Membership, Tester, User

    def make(role: str, place: Any = None, *, tester: str = "T-07") -> Membership:
        user = User(username=f"{role}-{getattr(place, 'code', 'service')}")
        user.set_unusable_password()
        user.save()
        where: dict[str, Any] = {}
        if role in ("lead", "researcher"):
            where["network"] = place
        elif role != "operator":
            where["clinic"] = place
        if role == "tester":
            with clinic_scope([place.pk], by=TEST_ACTOR):
                where["tester_id"] = Tester.objects.get(clinic=place, code=tester).id
        return Membership.objects.create(
            user=user, role=role, granted_at=NOW, granted_by="test", **where
        )

    return make


@pytest.fixture
def client_of() -> Callable[..., Any]:
    """An API client of a membership by its token, or of nobody for ``None``."""
    from django.utils import timezone
    from rest_framework.test import APIClient

    from registry.access.tokens import token_issue

    def make(membership: Any) -> APIClient:
        client = APIClient()
        if membership is not None:
            token = token_issue(membership=membership, created_at=timezone.now(), by=TEST_ACTOR)
            client.credentials(HTTP_AUTHORIZATION=f"Bearer {token}")
        return client

    return make


@pytest.fixture
def browser_of() -> Callable[..., Any]:
    """A page client signed in under a membership, or of nobody for ``None``."""
    from django.test import Client

    def make(membership: Any) -> Client:
        client = Client()
        if membership is not None:
            client.force_login(membership.user)
            session = client.session
            session["membership_id"] = membership.pk
            session.save()
        return client

    return make


def irrigation(ear: str, stimulus: str, peak: float, **more: Any) -> dict[str, Any]:
    temperature = {"warm": 44.0, "cool": 30.0}.get(stimulus)
    found: dict[str, Any] = {"ear": ear, "stimulus": stimulus, "peak_spv": peak}
    if temperature is not None:
        found["set_temperature_c"] = temperature
    return found | more


@pytest.fixture
def visit_payload() -> Callable[..., dict[str, Any]]:
    """A plain bithermal visit as a clinic would send it; keywords replace top-level fields."""

    def make(
        *, peaks: tuple[float, float, float, float] = (28.4, 19.6, 17.2, 12.8), **fields: Any
    ) -> dict[str, Any]:
        right_warm, right_cool, left_warm, left_cool = peaks
        return {
            "visit_ref": "V-KQMPX",
            "subject_ref": "S-HTKQB",
            "visit_date": "2026-03-02",
            "age_years": 54,
            "tester": "T-07",
            "irrigator": "IR-2",
            "medium": "water_open",
            "irrigations": [
                irrigation("right", "warm", right_warm),
                irrigation("left", "warm", left_warm),
                irrigation("right", "cool", right_cool),
                irrigation("left", "cool", left_cool),
            ],
        } | fields

    return make
