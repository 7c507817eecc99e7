"""What a finding is."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Finding:
    """Something about how the test was done or entered that a reader should know.

    ``irrigation`` is an ``Irrigation.name`` such as ``right_warm_2``, ``None`` for the whole
    visit; ``detail`` a word of a fixed catalogue; ``value`` what was found and ``limit`` what it
    was compared with, in the same unit.
    """

    code: str
    irrigation: str | None = None
    detail: str | None = None
    value: float | None = None
    limit: float | None = None

    def as_json(self) -> dict[str, Any]:
        """Plain values under their own names."""
        return asdict(self)
