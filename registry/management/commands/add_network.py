"""``manage.py add_network``: a network with its agreement on record."""

from __future__ import annotations

from argparse import ArgumentParser
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import IntegrityError, transaction
from django.utils import timezone

from registry.access.people import agreement_record, network_add
from registry.access.scope import Actor
from registry.models import Network


class Command(BaseCommand):
    help = "Add a network, or a new agreement to one that is there already."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("code")
        parser.add_argument("--name", help="needed for a new network")
        parser.add_argument("--controller", required=True, help="who answers for the data")
        parser.add_argument("--legal-basis", required=True)
        parser.add_argument("--terms", required=True, help="name and version of the terms")
        parser.add_argument("--contact", required=True)
        parser.add_argument("--from", dest="start", type=date.fromisoformat, required=True)
        parser.add_argument("--to", dest="end", type=date.fromisoformat)

    def handle(self, *args: Any, **options: Any) -> None:
        by = Actor(name="command line", role="operator", request_id="add_network")
        try:
            with transaction.atomic():
                network = self._network(options, by)
                agreement_record(
                    network=network,
                    controller=options["controller"],
                    legal_basis=options["legal_basis"],
                    terms=options["terms"],
                    contact=options["contact"],
                    in_force_from=options["start"],
                    in_force_to=options["end"],
                    by=by,
                    at=timezone.now(),
                )
        except IntegrityError:
            raise CommandError("An agreement needs every field, and may not end first.") from None
        self.stdout.write(f"network {network.code}: agreement from {options['start']} recorded")

    def _network(self, options: dict[str, Any], by: Actor) -> Network:
        known = Network.objects.filter(code=options["code"]).first()
        if known is not None:
            return known
        if not options["name"]:
            raise CommandError("A new network needs --name.")
        return network_add(code=options["code"], name=options["name"], by=by, at=timezone.now())
