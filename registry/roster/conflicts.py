"""Two entries that cannot stand beside each other."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import IntegrityError, transaction


class CodeInUse(Exception):
    """The clinic already has a tester, or a device in service, with this code."""


@contextmanager
def code_in_use_if_breaks(constraint: str) -> Iterator[None]:
    """Turn a broken unique key into ``CodeInUse``; the key, not a look beforehand, decides.

    :raises CodeInUse: if ``constraint`` refused the row.
    """
    try:
        with transaction.atomic():
            yield
    except IntegrityError as error:
        if broken_constraint(error) == constraint:
            raise CodeInUse from None
        raise


def broken_constraint(error: IntegrityError) -> str | None:
    """The name of the constraint that PostgreSQL says was broken."""
    diagnostics = getattr(error.__cause__, "diag", None)
    return getattr(diagnostics, "constraint_name", None)
