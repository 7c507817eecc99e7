"""Each cell's attempts are 1, 2, 3 ... with none twice and none left out."""

from __future__ import annotations

from collections.abc import Iterator

from registry.intake.checks.draft import Draft
from registry.intake.faults import Fault

Cell = tuple[str, str]


def attempts(draft: Draft) -> Iterator[Fault]:
    seen: dict[Cell, set[int]] = {}
    for position, cell, attempt in _cells(draft):
        numbers = seen.setdefault(cell, set())
        if attempt in numbers:
            yield Fault(f"/irrigations/{position}", "cell_attempt_repeated")
        numbers.add(attempt)
    for position, cell, attempt in _cells(draft):
        if attempt > 1 and attempt - 1 not in seen[cell]:
            yield Fault(f"/irrigations/{position}/attempt", "attempts_have_gaps")


def _cells(draft: Draft) -> Iterator[tuple[int, Cell, int]]:
    for position, one in draft.each():
        if "ear" in one and "stimulus" in one:
            yield position, (one["ear"], one["stimulus"]), one.get("attempt", 1)
