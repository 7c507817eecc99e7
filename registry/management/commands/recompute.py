"""``manage.py recompute``: every stored result again, after the method or criteria changed."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from registry import outbox
from registry.access.scope import Actor
from registry.intake.recompute import recompute_slice, recompute_start
from registry.models import Network, OutboxMessage, RecomputeRun


class Command(BaseCommand):
    help = "Compute every stored result again and say what changed and by how much."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--network", help="code of one network; without it, all of them")
        parser.add_argument(
            "--in-background", action="store_true", help="leave the work to the workers"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        by = Actor(name="command line", role="operator", request_id="recompute")
        run = recompute_start(network=self._network(options["network"]), by=by, at=timezone.now())
        if options["in_background"]:
            self.stdout.write(f"run {run.pk} is waiting for a worker")
            return
        message = OutboxMessage.objects.get(payload__run_id=run.pk)
        self._work(run, message)
        self._report(run)

    def _network(self, code: str | None) -> Network | None:
        if code is None:
            return None
        network = Network.objects.filter(code=code).first()
        if network is None:
            raise CommandError(f"There is no network with the code {code}.")
        return network

    def _work(self, run: RecomputeRun, message: OutboxMessage) -> None:
        """Claim the run's row, so that no worker does the same, and work to the end."""
        try:
            outbox.claim(message.pk, at=timezone.now())
        except outbox.AlreadyTaken:
            raise CommandError("A worker was quicker and is at work on it.") from None
        with outbox.heartbeat(message.pk, clock=timezone.now):
            while not recompute_slice(run_id=run.pk, clock=timezone.now):
                run.refresh_from_db()
                self.stdout.write(f"{run.visits_seen} visits seen")
        outbox.finish(message.pk, at=timezone.now())

    def _report(self, run: RecomputeRun) -> None:
        run.refresh_from_db()
        self.stdout.write(f"visits seen {run.visits_seen}, changed {run.visits_changed}")
        for name, entry in sorted(run.summary.get("indices", {}).items()):
            self.stdout.write(
                f"{name}: {entry['changed']} changed, by at most {entry['largest']:.4g};"
                f" {entry['undefined_flips']} became defined or undefined"
            )
        for code, entry in sorted(run.summary.get("codes", {}).items()):
            self.stdout.write(f"{code}: {entry['gained']} gained, {entry['lost']} lost")
