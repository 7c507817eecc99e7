"""Is it up, and can it reach what it needs."""

from __future__ import annotations

import pytest
from django.db import OperationalError, connection
from kombu.exceptions import OperationalError as BrokerUnreachable

pytestmark = pytest.mark.django_db


def test_the_process_is_up(client):
    response = client.get("/healthz")

    assert (response.status_code, response.json()) == (200, {"status": "up"})


def test_being_up_does_not_ask_the_database(client, django_assert_num_queries):
    with django_assert_num_queries(0):
        client.get("/healthz")


def test_it_is_ready_when_database_and_broker_are_reachable(client):
    response = client.get("/readyz")

    assert response.status_code == 200
    assert response.json() == {"status": "ready", "database": True, "broker": True}


def test_it_is_not_ready_without_the_database(client, monkeypatch):
    def refuse():
        raise OperationalError

    monkeypatch.setattr(connection, "ensure_connection", refuse)

    response = client.get("/readyz")

    assert response.status_code == 503
    assert response.json() == {"status": "not ready", "database": False, "broker": True}


def test_it_is_not_ready_without_the_broker(client, monkeypatch):
    def refuse(self, *args, **kwargs):
        raise BrokerUnreachable

    monkeypatch.setattr("kombu.Connection.ensure_connection", refuse)

    response = client.get("/readyz")

    assert response.status_code == 503
    assert response.json()["broker"] is False


def test_somebody_signed_in_gets_the_same_answer(make_clinic, make_member, browser_of, monkeypatch):
    browser = browser_of(make_member("coordinator", make_clinic()))
    monkeypatch.setattr("registry.api.health._broker_reachable", lambda: False)

    assert browser.get("/readyz").status_code == 503


@pytest.mark.parametrize("address", ["/healthz", "/readyz"])
def test_only_reading_is_answered(client, address):
    assert client.post(address).status_code == 405
