"""A visit while it is being checked: what could be read so far, and what could not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from registry.intake.checks.directory import Directory
from registry.intake.faults import Fault

# Values in a draft have passed the checker of their field, which is what fixes their types.
Values = dict[str, Any]


@dataclass(slots=True)
class Draft:
    """The readable values of a visit, the faults so far, and what the rules may ask.

    A field that was sent but refused is missing from ``visit`` and ``irrigations`` and has a
    fault; an irrigation that was no object is ``None``.
    """

    today: date
    directory: Directory
    reduced: bool = False
    need_set_temperature: bool = True
    visit: Values = field(default_factory=dict)
    irrigations: list[Values | None] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)

    def each(self) -> Iterator[tuple[int, Values]]:
        """Every readable irrigation with its position."""
        for position, values in enumerate(self.irrigations):
            if values is not None:
                yield position, values

    def was_sent(self, values: Values, name: str, pointer: str) -> bool:
        """Whether a field was there at all, readable or not; a refused one is not missing too."""
        if name in values:
            return True
        below = f"{pointer}/{name}"
        return any(
            fault.pointer == below or fault.pointer.startswith(below + "/") for fault in self.faults
        )
