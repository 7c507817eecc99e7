"""What may not happen side by side at one clinic, and what is tried again when it did."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, TypeVar

from django.db import OperationalError, connection

T = TypeVar("T")

# A space of its own for these advisory locks; the second number is the clinic.
_ERASURES: Final = 7002
_TRIES: Final = 4
_DEADLOCK: Final = "40P01"


def loading_beside_others(clinic_id: int) -> None:
    """Until this transaction ends nobody is erased: else a subject could go, or come back,
    between the look at the erased references and the insert."""
    _lock("pg_advisory_xact_lock_shared", clinic_id)


def erasing_alone(clinic_id: int) -> None:
    """Wait until no visits are being loaded, and let none begin before this transaction ends."""
    _lock("pg_advisory_xact_lock", clinic_id)


def again_after_deadlock(work: Callable[[], T]) -> T:
    """Do ``work``, which must undo itself when it fails, and again where it met a deadlock.

    Two files of one clinic may bring the same new codes in another order; the database then
    stops one of them, and once it begins anew it waits for the other.

    :raises OperationalError: any other one, or after the last try.
    """
    for _ in range(_TRIES - 1):
        try:
            return work()
        except OperationalError as error:
            if getattr(error.__cause__, "sqlstate", None) != _DEADLOCK:
                raise
    return work()


def _lock(function: str, clinic_id: int) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {function}(%s, %s)", [_ERASURES, clinic_id])
