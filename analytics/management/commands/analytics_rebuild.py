"""``manage.py analytics_rebuild``: every sum and figure made anew from the visits."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from analytics.management.networks import networks_asked
from analytics.work import network_rebuild


class Command(BaseCommand):
    help = "Make every sum and figure anew from the visits, then evaluate."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--network", help="code of one network; without it: all")

    def handle(self, *args: Any, **options: Any) -> None:
        for network in networks_asked(options["network"]):
            network_rebuild(network, clock=timezone.now)
            self.stdout.write(f"{network.code}: made anew and evaluated")
