"""Work that must happen: a row written with the data, claimed once, found again when lost."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from threading import Event, Thread
from typing import Any

from django.conf import settings
from django.db import connection, transaction
from django.db.models import F, Q

from registry.models import OutboxMessage


class AlreadyTaken(Exception):
    """Another worker holds this row, or it is done or parked: there is nothing to do."""


def add(task: str, payload: dict[str, Any], *, at: datetime) -> OutboxMessage:
    """Write a row in the caller's transaction, and ring the doorbell once it is committed.

    When the bell is lost (the broker is down), the sweep finds the row.
    """
    message = OutboxMessage.objects.create(task=task, payload=payload, created_at=at)
    transaction.on_commit(lambda: _ring(message.pk), robust=True)
    return message


def _ring(message_id: int) -> None:
    from registry.tasks import run_outbox_message

    run_outbox_message.apply_async(kwargs={"message_id": message_id}, retry=False)


def claim(message_id: int, *, at: datetime) -> OutboxMessage:
    """Take a row, counting the attempt before it is made.

    :raises AlreadyTaken: unless it waits, or its holder let the lease run out.
    """
    free = Q(state="waiting") | Q(state="running", lease_until__lt=at)
    taken = OutboxMessage.objects.filter(free, pk=message_id).update(
        state="running",
        attempts=F("attempts") + 1,
        lease_until=at + timedelta(seconds=settings.OUTBOX_LEASE_SECONDS),
    )
    if taken != 1:
        raise AlreadyTaken
    message = OutboxMessage.objects.get(pk=message_id)
    if message.attempts > settings.OUTBOX_MAX_ATTEMPTS:
        # It killed its worker every time; a person must look.
        park(message_id, reason="too_many_attempts", at=at)
        raise AlreadyTaken
    return message


def finish(message_id: int, *, at: datetime) -> None:
    OutboxMessage.objects.filter(pk=message_id, state="running").update(
        state="done", finished_at=at, lease_until=None
    )


def give_back(message_id: int) -> None:
    """Let the row wait again, as after a slice of long work; the attempt was a good one."""
    OutboxMessage.objects.filter(pk=message_id, state="running").update(
        state="waiting", lease_until=None, attempts=0
    )
    transaction.on_commit(lambda: _ring(message_id), robust=True)


def park(message_id: int, *, reason: str, at: datetime) -> None:
    OutboxMessage.objects.filter(pk=message_id).update(
        state="parked", parked_reason=reason, lease_until=None, finished_at=at
    )


def sweep(*, at: datetime) -> int:
    """Ring again for every row that waits too long or whose holder is gone; how many."""
    late = at - timedelta(seconds=settings.OUTBOX_LEASE_SECONDS)
    lost = OutboxMessage.objects.filter(
        Q(state="waiting", created_at__lt=late) | Q(state="running", lease_until__lt=at)
    ).order_by("created_at", "id")
    numbers = list(lost.values_list("pk", flat=True)[:1000])
    for number in numbers:
        _ring(number)
    return len(numbers)


@contextmanager
def heartbeat(message_id: int, *, clock: Callable[[], datetime]) -> Iterator[None]:
    """Renew the lease from a thread of its own while the work inside goes on."""
    over = Event()
    beat = Thread(target=_beat, args=(message_id, over, clock), daemon=True)
    beat.start()
    try:
        yield
    finally:
        over.set()
        beat.join()


def _beat(message_id: int, over: Event, clock: Callable[[], datetime]) -> None:
    seconds = settings.OUTBOX_LEASE_SECONDS
    while not over.wait(seconds / 3):
        OutboxMessage.objects.filter(pk=message_id, state="running").update(
            lease_until=clock() + timedelta(seconds=seconds)
        )
    connection.close()
