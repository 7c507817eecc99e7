"""``manage.py prepare_database``: the two roles and the database, made where they are missing."""

from __future__ import annotations

from typing import Any

import psycopg
from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from psycopg.conninfo import conninfo_to_dict

from registry.embedded.roles import prepare_roles


class Command(BaseCommand):
    help = "Make the roles and the database that DATABASE_URL and DATABASE_OWNER_URL name."
    requires_system_checks = []

    def handle(self, *args: Any, **options: Any) -> None:
        application = conninfo_to_dict(settings.DATABASE_URL)
        owner = conninfo_to_dict(settings.DATABASE_OWNER_URL)
        if not settings.ADMINISTRATOR_URL or "user" not in application or "user" not in owner:
            raise CommandError(
                "ADMINISTRATOR_URL, DATABASE_URL and DATABASE_OWNER_URL are needed, each with a"
                " user name."
            )
        try:
            prepare_roles(
                settings.ADMINISTRATOR_URL,
                application_role=str(application["user"]),
                password=_text(application.get("password")),
                database=str(application["dbname"]),
                owner_role=str(owner["user"]),
                owner_password=_text(owner.get("password")),
            )
        except psycopg.Error as error:
            raise CommandError(f"The server refused: {type(error).__name__}.") from None
        self.stdout.write("roles and database are ready; next: migrate --database owner")


def _text(value: object) -> str | None:
    return None if value is None else str(value)
