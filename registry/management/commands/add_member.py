"""``manage.py add_member``: a person, a role, a place; and a token where one is asked for."""

from __future__ import annotations

import getpass
from argparse import ArgumentParser
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.db import IntegrityError, transaction
from django.utils import timezone

from registry.access.people import member_add
from registry.access.roles import CLINIC_ROLES, NETWORK_ROLES, ROLES
from registry.access.scope import Actor, clinic_scope
from registry.access.tokens import token_issue
from registry.models import Clinic, Membership, Network, Tester, User

BY = Actor(name="command line", role="operator", request_id="add_member")


class Command(BaseCommand):
    help = "Give a person a role; a new person's password is asked for and not shown."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("username")
        parser.add_argument("--role", choices=ROLES, required=True)
        parser.add_argument("--clinic", help="code, for the roles of a clinic")
        parser.add_argument("--network", help="code, for lead and researcher")
        parser.add_argument("--tester", help="code of the tester that a tester account is")
        parser.add_argument("--token", action="store_true", help="print a token, once")

    def handle(self, *args: Any, **options: Any) -> None:
        membership = self._add(options)
        self.stdout.write(f"{options['username']} is {options['role']} now")
        if options["token"]:
            token = token_issue(membership=membership, created_at=timezone.now(), by=BY)
            self.stdout.write(token)

    def _add(self, options: dict[str, Any]) -> Membership:
        role = options["role"]
        clinic = self._place(Clinic, options["clinic"], needed=role in CLINIC_ROLES)
        network = self._place(Network, options["network"], needed=role in NETWORK_ROLES)
        try:
            with transaction.atomic():
                return member_add(
                    username=options["username"],
                    password=self._password(options["username"]),
                    role=role,
                    clinic=clinic,
                    network=network,
                    tester_id=self._tester(clinic, options["tester"]),
                    by=BY,
                    at=timezone.now(),
                )
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from None
        except IntegrityError:
            raise CommandError("The role does not fit the place, or is held already.") from None

    def _place(self, kind: Any, code: str | None, *, needed: bool) -> Any:
        if not needed:
            return None
        place = kind.objects.filter(code=code).first()
        if place is None:
            raise CommandError(f"The role needs a {kind._meta.model_name} that is there.")
        return place

    def _tester(self, clinic: Clinic | None, code: str | None) -> UUID | None:
        if clinic is None or code is None:
            return None
        with clinic_scope([clinic.pk], by=BY):
            tester = Tester.objects.filter(clinic=clinic, code=code).order_by("id").first()
        if tester is None:
            raise CommandError(f"The clinic has no tester {code}.")
        return tester.id

    def _password(self, username: str) -> str | None:
        if User.objects.filter(username=username).exists():
            return None
        return getpass.getpass("Password: ")
