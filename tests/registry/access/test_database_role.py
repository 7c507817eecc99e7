"""The application refuses to work as a role that row-level security does not bind."""

from __future__ import annotations

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.db import connection

from registry.access import database
from tests.database import owner_connection

pytestmark = pytest.mark.django_db


class AsRole:
    """A connection that answers the one question about its role as another role would."""

    alias = "default"

    def __init__(self, answer):
        self.answer = answer

    def cursor(self):
        return self

    def __enter__(self):
        return self

    def __exit__(self, *_):
        return None

    def execute(self, statement):
        self.statement = statement

    def fetchone(self):
        return (self.answer,)


@pytest.fixture(autouse=True)
def _unchecked(monkeypatch):
    monkeypatch.setattr(database, "_checked", set())


def test_the_role_of_the_tests_is_accepted_as_the_real_one_would_be():
    database.refuse_powerful_role(connection=connection)

    assert database._checked == {"default"}


def test_a_role_that_owns_the_tables_is_refused():
    with owner_connection() as owner:
        as_default = type("Owner", (), {"alias": "default", "cursor": owner.cursor})()

        with pytest.raises(ImproperlyConfigured, match="neither superuser nor owner"):
            database.refuse_powerful_role(connection=as_default)


def test_a_superuser_is_refused():
    with pytest.raises(ImproperlyConfigured, match="neither superuser nor owner"):
        database.refuse_powerful_role(connection=AsRole(True))
