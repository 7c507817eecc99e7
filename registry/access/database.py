"""What the database connections must be, checked and granted when they are made."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.signals import connection_created
from django.db.models.signals import post_migrate
from psycopg import sql

from registry.access.tables import APPEND_ONLY, NEVER_UPDATED

_checked: set[str] = set()


def connect_signals() -> None:
    connection_created.connect(refuse_powerful_role, dispatch_uid="refuse_powerful_role")
    post_migrate.connect(grant_after_migrate, dispatch_uid="grant_after_migrate")


def refuse_powerful_role(*, connection: BaseDatabaseWrapper, **_: object) -> None:
    """Refuse to work as a role that row-level security does not bind.

    :raises ImproperlyConfigured: if the application connects as superuser, as a role that
        bypasses row security, or as the owner of the tables.
    """
    if connection.alias != "default" or "default" in _checked:
        return
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT rolsuper OR rolbypassrls OR EXISTS (SELECT 1 FROM pg_class"
            " WHERE relname = 'registry_visit' AND pg_has_role(relowner, 'USAGE'))"
            " FROM pg_roles WHERE rolname = current_user"
        )
        row = cursor.fetchone()
    if row is None or row[0]:
        raise ImproperlyConfigured(
            "DATABASE_URL must name a role that is neither superuser nor owner of the tables"
            " and may not bypass row security: such a role sees every clinic's rows."
        )
    _checked.add("default")


def grant_after_migrate(*, using: str, app_config: Any, **_: object) -> None:
    """After the owner migrated, let the application role use the tables, and no more."""
    if using == "owner" and app_config.name == "registry":
        grant_to_application(settings.DATABASES["default"]["USER"])


def grant_to_application(role: str) -> None:
    from django.db import connections

    name = sql.Identifier(role)
    with connections["owner"].cursor() as cursor:
        for statement in (
            "GRANT USAGE ON SCHEMA public TO {}",
            "GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO {}",
            "GRANT USAGE ON ALL SEQUENCES IN SCHEMA public TO {}",
            "REVOKE INSERT, UPDATE, DELETE ON django_migrations FROM {}",
        ):
            cursor.execute(sql.SQL(statement).format(name))
        for table in APPEND_ONLY:
            cursor.execute(
                sql.SQL("REVOKE UPDATE, DELETE ON {} FROM {}").format(sql.Identifier(table), name)
            )
        for table in NEVER_UPDATED:
            cursor.execute(
                sql.SQL("REVOKE UPDATE ON {} FROM {}").format(sql.Identifier(table), name)
            )
