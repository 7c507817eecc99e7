"""``manage.py demo``: everything on one machine with nothing installed beforehand."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from registry.demo.scenario import SIZES
from registry.demo_service.start import BASE_DIR, DemoCannotStart, DemoPlan, run_demo


class Command(BaseCommand):
    help = "Bring up the registry with an invented network of clinics. No real results here."
    # Without DATABASE_URL there is no database yet to check against.
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--data", type=Path, default=BASE_DIR / "var" / "demo")
        parser.add_argument("--reset", action="store_true", help="throw the demo away first")
        parser.add_argument("--size", choices=sorted(SIZES), default="full")

    def handle(self, *args: Any, **options: Any) -> None:
        plan = DemoPlan(
            data=options["data"].resolve(),
            port=options["port"],
            size=options["size"],
            reset=options["reset"],
        )
        try:
            run_demo(plan, today=timezone.localdate(), tell=self._tell)
        except DemoCannotStart as reason:
            raise CommandError(str(reason)) from None

    def _tell(self, line: str) -> None:
        self.stdout.write(line)
        self.stdout.flush()
