"""What the workers do: each task claims its row, works, and bears a second delivery."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Any, Final

from celery import shared_task
from django.utils import timezone

from registry import outbox
from registry.access.failures import log_error
from registry.intake.recompute import TASK as RECOMPUTE
from registry.intake.recompute import recompute_slice

logger = logging.getLogger(__name__)


def _recompute(payload: dict[str, Any]) -> bool:
    return recompute_slice(run_id=payload["run_id"], clock=timezone.now)


# A handler answers whether its work is finished; if not, the row waits for its next slice.
HANDLERS: Final[dict[str, Callable[[dict[str, Any]], bool]]] = {RECOMPUTE: _recompute}


@shared_task(name="registry.run_outbox_message")
def run_outbox_message(*, message_id: int, **_newer: object) -> None:
    """Do the work of one outbox row; a second delivery of the message does nothing."""
    try:
        message = outbox.claim(message_id, at=timezone.now())
    except outbox.AlreadyTaken:
        logger.info("outbox row already taken", extra={"message_id": message_id})
        return
    handler = HANDLERS.get(message.task)
    if handler is None:
        outbox.park(message_id, reason="unknown_task", at=timezone.now())
        return
    try:
        with outbox.heartbeat(message_id, clock=timezone.now):
            finished = handler(message.payload)
    except Exception:
        # Not raised: Celery would log the text of a database error, and with it the row that
        # failed. The lease runs out, the sweep tries again, and too many attempts park the row.
        log_error(message.task, f"outbox {message_id}")
        return
    if finished:
        outbox.finish(message_id, at=timezone.now())
    else:
        outbox.give_back(message_id)


@shared_task(name="registry.outbox_sweep")
def outbox_sweep(**_newer: object) -> None:
    """Find what a lost message or a dead worker left behind."""
    outbox.sweep(at=timezone.now())
