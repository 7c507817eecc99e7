"""``manage.py analytics_build``: evaluate networks now, without waiting for the pause."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from analytics.management.networks import networks_asked
from analytics.models import Build
from analytics.work import build_network


class Command(BaseCommand):
    help = "Evaluate the networks up to the last complete month."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--network", help="code of one network; without it: all")

    def handle(self, *args: Any, **options: Any) -> None:
        for network in networks_asked(options["network"]):
            build_network({"network_id": network.pk}, clock=timezone.now)
            build = Build.objects.filter(network=network).order_by("-id").first()
            if build is not None:
                self.stdout.write(
                    f"{network.code}: up to {build.covers_until}, {build.testers} testers,"
                    f" {build.visits} visits"
                )
