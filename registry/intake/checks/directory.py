"""Which codes of testers, irrigators and recorders a clinic knows, and when they were active."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal, Protocol

State = Literal["ok", "unknown", "inactive"]
Span = tuple[date | None, date | None]


class Directory(Protocol):
    """What the checks ask about codes; ``on`` is the day of the visit."""

    def tester_state(self, code: str, on: date) -> State: ...

    def irrigator_state(self, code: str, on: date) -> State: ...

    def recorder_state(self, code: str, on: date) -> State: ...


@dataclass(frozen=True, slots=True)
class KnownCodes:
    """A directory held in memory.

    ``spans`` gives the first and last day (both included, ``None``: open) of those codes that
    were not active always, by kind and code: ``{"tester": {"T-07": (from, to)}}``.
    """

    testers: frozenset[str] = frozenset()
    irrigators: frozenset[str] = frozenset()
    recorders: frozenset[str] = frozenset()
    spans: Mapping[str, Mapping[str, Span]] = field(default_factory=dict)

    def tester_state(self, code: str, on: date) -> State:
        return self._state("tester", self.testers, code, on)

    def irrigator_state(self, code: str, on: date) -> State:
        return self._state("irrigator", self.irrigators, code, on)

    def recorder_state(self, code: str, on: date) -> State:
        return self._state("recorder", self.recorders, code, on)

    def _state(self, kind: str, known: frozenset[str], code: str, on: date) -> State:
        if code not in known:
            return "unknown"
        if not self.spans:
            return "ok"
        start, end = self.spans.get(kind, {}).get(code, (None, None))
        is_active = (start is None or start <= on) and (end is None or on <= end)
        return "ok" if is_active else "inactive"


class AnyCode:
    """Knows every code: for computing without storing, where no clinic is asked."""

    def tester_state(self, code: str, on: date) -> State:
        return "ok"

    def irrigator_state(self, code: str, on: date) -> State:
        return "ok"

    def recorder_state(self, code: str, on: date) -> State:
        return "ok"
