"""``manage.py change_settings``: a network's criteria, a clinic's procedure and usual values."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from registry.access.scope import Actor
from registry.caloric.stored import SettingsInvalid
from registry.models import Clinic, Network
from registry.roster.clinic_settings import (
    CriteriaVersionTaken,
    clinic_change_settings,
    network_use_criteria,
)

BY = Actor(name="command line", role="operator", request_id="change_settings")


class Command(BaseCommand):
    help = "Change settings from JSON files; docs/operating.md shows their form."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--network", help="code; with --criteria")
        parser.add_argument("--criteria", type=Path, help="a criteria set of the network's own")
        parser.add_argument("--clinic", help="code; with --procedure, --visit-defaults")
        parser.add_argument("--procedure", type=Path, help="settings that differ here")
        parser.add_argument("--visit-defaults", type=Path, help="usual values by dotted path")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            if options["criteria"]:
                self._criteria(options)
            if options["procedure"] or options["visit_defaults"]:
                self._clinic(options)
        except SettingsInvalid as invalid:
            raise CommandError(f"Nothing was changed: {invalid}") from None
        except CriteriaVersionTaken:
            raise CommandError("There is a set of this name and version; raise it.") from None
        self.stdout.write("done; `manage.py recompute` brings stored results up to date")

    def _criteria(self, options: dict[str, Any]) -> None:
        network = Network.objects.filter(code=options["network"]).first()
        if network is None:
            raise CommandError("--criteria needs the --network it is for.")
        body = self._json(options["criteria"])
        network_use_criteria(network=network, body=body, by=BY, at=timezone.now())

    def _clinic(self, options: dict[str, Any]) -> None:
        clinic = Clinic.objects.select_related("network").filter(code=options["clinic"]).first()
        if clinic is None:
            raise CommandError("These settings need the --clinic they are for.")
        clinic_change_settings(
            clinic=clinic,
            procedure=self._json(options["procedure"]),
            visit_defaults=self._json(options["visit_defaults"]),
            by=BY,
            at=timezone.now(),
        )

    def _json(self, file: Path | None) -> Any:
        if file is None:
            return None
        try:
            body = json.loads(file.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            raise CommandError(f"{file.name} is not a JSON file that can be read.") from None
        if not isinstance(body, dict):
            raise CommandError(f"{file.name} must hold one object.")
        return body
