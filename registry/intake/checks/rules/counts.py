"""At most one attempt of a cell is marked as the one that counts."""

from __future__ import annotations

from collections.abc import Iterator

from registry.intake.checks.draft import Draft
from registry.intake.faults import Fault


def counts(draft: Draft) -> Iterator[Fault]:
    marked = set()
    for position, one in draft.each():
        if not one.get("counts") or "ear" not in one or "stimulus" not in one:
            continue
        cell = (one["ear"], one["stimulus"])
        if cell in marked:
            yield Fault(f"/irrigations/{position}/counts", "counts_twice")
        marked.add(cell)
