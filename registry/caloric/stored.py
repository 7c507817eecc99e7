"""Reading back settings that a network or clinic wrote itself: every fault at once."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import NamedTuple, TypeGuard


class SettingFault(NamedTuple):
    """Where a stored setting is wrong (RFC 6901 pointer) and how: a fixed word."""

    pointer: str
    code: str


class SettingsInvalid(ValueError):
    """Stored settings that cannot be used; ``faults`` holds all of them."""

    def __init__(self, faults: Iterable[SettingFault]) -> None:
        self.faults = tuple(faults)
        # Codes and pointers only: what was sent is never echoed.
        super().__init__("; ".join(f"{fault.pointer}: {fault.code}" for fault in self.faults))


def is_number(value: object) -> TypeGuard[float]:
    """A finite int or float; a bool is not a number here, though Python thinks so."""
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def unknown_fields(body: Mapping[str, object], known: Iterable[str], at: str) -> list[SettingFault]:
    """One fault for each field nobody reads, named by its position, not by its name."""
    allowed = frozenset(known)
    return [
        SettingFault(f"{at}/{place}", "unknown_field")
        for place, name in enumerate(body)
        if name not in allowed
    ]
