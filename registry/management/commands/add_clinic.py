"""``manage.py add_clinic``: a clinic of a network."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import IntegrityError, transaction
from django.utils import timezone

from registry.access.people import ZoneUnknown, clinic_add
from registry.access.scope import Actor
from registry.models import Network


class Command(BaseCommand):
    help = "Add a clinic to a network."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("code")
        parser.add_argument("--network", required=True)
        parser.add_argument("--name", required=True)
        parser.add_argument("--time-zone", required=True, help="an IANA name, Area/City")

    def handle(self, *args: Any, **options: Any) -> None:
        network = Network.objects.filter(code=options["network"]).first()
        if network is None:
            raise CommandError(f"There is no network with the code {options['network']}.")
        try:
            with transaction.atomic():
                clinic_add(
                    network=network,
                    code=options["code"],
                    name=options["name"],
                    time_zone=options["time_zone"],
                    by=Actor(name="command line", role="operator", request_id="add_clinic"),
                    at=timezone.now(),
                )
        except ZoneUnknown:
            raise CommandError("There is no such time zone; use a name as Area/City.") from None
        except IntegrityError:
            raise CommandError("A clinic with this code is there already.") from None
        self.stdout.write(f"clinic {options['code']} added")
