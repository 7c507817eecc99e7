"""Testers, irrigators and recorders are known to the clinic and were active on the day."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from typing import Final

from registry.intake.checks.directory import Directory, State
from registry.intake.checks.draft import Draft, Values
from registry.intake.faults import Fault

Ask = Callable[[str, date], State]

_INACTIVE: Final = {
    "tester": "tester_not_active",
    "irrigator": "irrigator_not_in_service",
    "recorder": "recorder_not_in_service",
}
_IN_VISIT: Final = {"tester": "tester", "irrigator": "irrigator", "recorder": "recorder"}
_IN_IRRIGATION: Final = {"tester": "tester", "irrigator": "irrigator", "peak_set_by": "tester"}


def known_codes(draft: Draft) -> Iterator[Fault]:
    """Nothing is asked of a reduced visit, which is computed for no clinic in particular."""
    if draft.reduced:
        return
    ask = _questions(draft.directory)
    yield from _faults(draft, draft.visit, _IN_VISIT, ask, "")
    for position, one in draft.each():
        yield from _faults(draft, one, _IN_IRRIGATION, ask, f"/irrigations/{position}")


def _questions(directory: Directory) -> dict[str, Ask]:
    return {
        "tester": directory.tester_state,
        "irrigator": directory.irrigator_state,
        "recorder": directory.recorder_state,
    }


def _faults(
    draft: Draft, values: Values, fields: dict[str, str], ask: dict[str, Ask], pointer: str
) -> Iterator[Fault]:
    day = draft.visit.get("visit_date")
    for field, kind in fields.items():
        code = values.get(field)
        if code is None:
            continue
        state = ask[kind](code, day or draft.today)
        if state == "unknown":
            yield Fault(f"{pointer}/{field}", f"unknown_{kind}")
        elif state == "inactive" and day is not None:
            yield Fault(f"{pointer}/{field}", _INACTIVE[kind])
