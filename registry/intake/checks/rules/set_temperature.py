"""Warm is set above 37 Cel, cool and ice below; only ice may go without."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from registry.intake.checks.draft import Draft
from registry.intake.faults import Fault

# At body temperature there is no stimulus, so 37 itself belongs to neither side.
BODY_TEMPERATURE_C: Final = 37.0


def set_temperature(draft: Draft) -> Iterator[Fault]:
    for position, one in draft.each():
        stimulus = one.get("stimulus")
        temperature = one.get("set_temperature_c")
        if temperature is None:
            if stimulus != "ice" and _is_missing(draft, one, position):
                yield Fault(f"/irrigations/{position}/set_temperature_c", "required")
        elif stimulus is not None and not _fits(stimulus, temperature):
            pointer = f"/irrigations/{position}/set_temperature_c"
            yield Fault(pointer, "temperature_contradicts_stimulus")


def _is_missing(draft: Draft, one: dict[str, object], position: int) -> bool:
    pointer = f"/irrigations/{position}"
    return draft.need_set_temperature and not draft.was_sent(one, "set_temperature_c", pointer)


def _fits(stimulus: str, temperature: float) -> bool:
    if stimulus == "warm":
        return temperature > BODY_TEMPERATURE_C
    return temperature < BODY_TEMPERATURE_C
