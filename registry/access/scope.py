"""The clinics whose rows a transaction may touch, told to the database.

Row-level security reads the scope from a setting that lives as long as the transaction
(``SET LOCAL``): nothing leaks into the next use of a pooled connection, and without a
scope there are no rows.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from django.db import connection, transaction


@dataclass(frozen=True, slots=True, kw_only=True)
class Actor:
    """Who acts: a name for the record, the role it is done in, and the request it came with."""

    name: str
    role: str
    request_id: str = ""


@contextmanager
def clinic_scope(clinic_ids: Iterable[int], *, by: Actor) -> Iterator[None]:
    """Open a transaction in which exactly these clinics' rows exist, done by this actor."""
    wanted = "{" + ",".join(str(int(number)) for number in clinic_ids) + "}"
    with transaction.atomic():
        before = _set(wanted, by.name, by.request_id)
        yield
        # After an error the rollback restores the old values; after success nothing does
        # while an outer transaction is still open, as in a nested scope or a test.
        if not transaction.get_rollback():
            _set(*before)


def _set(clinics: str, actor: str, request_id: str) -> tuple[str, str, str]:
    """Set the three values for this transaction and return what they were."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT coalesce(current_setting('registry.clinics', true), ''),"
            " coalesce(current_setting('registry.actor', true), ''),"
            " coalesce(current_setting('registry.request_id', true), '')"
        )
        before = cursor.fetchone()
        cursor.execute(
            "SELECT set_config('registry.clinics', %s, true),"
            " set_config('registry.actor', %s, true),"
            " set_config('registry.request_id', %s, true)",
            [clinics, actor, request_id],
        )
    return before[0], before[1], before[2]
