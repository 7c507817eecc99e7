"""One irrigation at a time: no place in the order twice, and never both ears at once."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from registry.intake.checks.draft import Draft
from registry.intake.faults import Fault

# Formulas take each response as the answer to one ear alone, so both at once cannot be stored.
_TOGETHER = "simultaneous_not_supported"


def order(draft: Draft) -> Iterator[Fault]:
    places: dict[object, Any] = {}
    starts: dict[object, Any] = {}
    for position, one in draft.each():
        ear = one.get("ear")
        place, start = one.get("order_in_visit"), one.get("started_at")
        if place is not None and places.setdefault(place, (position, ear))[0] != position:
            code = _TOGETHER if _other_ear(places[place][1], ear) else "order_in_visit_repeated"
            yield Fault(f"/irrigations/{position}/order_in_visit", code)
        if start is not None and _other_ear(starts.setdefault(start, (position, ear))[1], ear):
            yield Fault(f"/irrigations/{position}/started_at", _TOGETHER)


def _other_ear(one: str | None, other: str | None) -> bool:
    return one is not None and other is not None and one != other
