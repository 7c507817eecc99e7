"""``manage.py demo_fill``: a part of the demo's start, in a process of its own."""

from __future__ import annotations

from argparse import ArgumentParser
from datetime import date
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from registry.demo.network import scenario
from registry.demo.scenario import SIZES
from registry.demo_service.accounts import accounts_make
from registry.demo_service.network import NotADemo, check_only_the_demo, network_set_up
from registry.demo_service.results import clinic_results_load
from registry.models import Network


class Command(BaseCommand):
    help = "Set up the invented network (--accounts FILE), or load some of its clinics."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--until", type=date.fromisoformat, required=True)
        parser.add_argument("--size", choices=sorted(SIZES), required=True)
        parser.add_argument("--accounts", type=Path)
        parser.add_argument("--clinics", default="")

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("Only the demo may be filled with invented results.")
        now = timezone.now()
        try:
            there = check_only_the_demo(scenario())
        except NotADemo:
            raise CommandError(
                "The database holds a network that is not the demo's; it is left alone."
            ) from None
        if not there:
            network_set_up(scenario(), until=options["until"], at=now)
        if options["accounts"]:
            network = Network.objects.get(code=scenario().network.code)
            accounts_make(network, file=options["accounts"], at=now)
        wanted = options["clinics"].split(",")
        for clinic in (one for one in scenario().clinics if one.code in wanted):
            clinic_results_load(
                scenario(),
                clinic,
                size=options["size"],
                until=options["until"],
                at=now,
                tell=self._tell,
            )

    def _tell(self, line: str) -> None:
        self.stdout.write(line)
        self.stdout.flush()
