"""What the workers do for analytics; each handler bears a second delivery."""

from __future__ import annotations

from typing import Any

from celery import shared_task
from django.db import transaction
from django.utils import timezone

from analytics import work
from registry.tasks import HANDLERS


def _refresh(payload: dict[str, Any]) -> bool:
    return work.refresh_clinic(payload, clock=timezone.now)


def _build(payload: dict[str, Any]) -> bool:
    return work.build_network(payload, clock=timezone.now)


def _fit_mix(payload: dict[str, Any]) -> bool:
    return work.fit_mix(payload, clock=timezone.now)


def register_handlers() -> None:
    """Make the outbox know these tasks; called once, when the applications are ready."""
    HANDLERS[work.REFRESH] = _refresh
    HANDLERS[work.BUILD] = _build
    HANDLERS[work.FIT_MIX] = _fit_mix


@shared_task(name="analytics.look")
def look(**_newer: object) -> None:
    """Look whether figures are behind their data, and add the work that follows."""
    with transaction.atomic():
        work.look(at=timezone.now())
