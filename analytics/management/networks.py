"""Which networks a command was asked for."""

from __future__ import annotations

from django.core.management.base import CommandError

from registry.models import Network


def networks_asked(code: str | None) -> list[Network]:
    """One network by its code, or all.

    :raises CommandError: if no network has the code.
    """
    rows = Network.objects.order_by("id")
    if code is None:
        return list(rows)
    found = list(rows.filter(code=code))
    if not found:
        raise CommandError(f"There is no network {code}.")
    return found
