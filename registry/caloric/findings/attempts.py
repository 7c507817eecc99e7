"""Was everything done that was planned, and does every repeat say why?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from registry.caloric.case import Case
from registry.caloric.findings.finding import Finding
from registry.caloric.vocabulary import CELLS

_PLANNED_RESPONSES: Final = {
    "bithermal": frozenset(CELLS),
    "monothermal_warm": frozenset({"right_warm", "left_warm"}),
    "monothermal_cool": frozenset({"right_cool", "left_cool"}),
}


def counted_attempt_not_last(case: Case) -> Iterator[Finding]:
    """A later usable attempt of the same cell was set aside.

    ``value`` is the attempt that counts, ``limit`` the last usable one.
    """
    last: dict[str, int] = {}
    for one in case.visit.irrigations:
        if one.usable and (one.peak_spv is not None or one.beats is not None):
            last[one.cell] = max(one.attempt, last.get(one.cell, 0))
    for one in case.visit.irrigations:
        if one.name in case.counting_names and one.attempt < last[one.cell]:
            yield Finding("counted_attempt_not_last", one.name, None, one.attempt, last[one.cell])


def repeat_without_reason(case: Case) -> Iterator[Finding]:
    """A second or later attempt that does not say why it was made."""
    for one in case.visit.irrigations:
        if one.attempt > 1 and one.repeat_reason is None:
            yield Finding("repeat_without_reason", one.name)


def incomplete(case: Case) -> Iterator[Finding]:
    """Fewer usable responses than planned, or the sender says that the test was not finished.

    Without a plan, cells that make up no protocol are incomplete. ``detail`` is the recorded
    reason, ``value`` how many of the planned responses are there, ``limit`` how many were planned.
    """
    visit = case.visit
    there = {one.cell for one in case.visit.irrigations if one.name in case.counting_names}
    planned = _PLANNED_RESPONSES.get(visit.protocol_planned or "")
    if planned is not None:
        is_incomplete = not planned <= there
    elif visit.protocol_planned == "ice_only":
        is_incomplete = not there.intersection({"right_ice", "left_ice"})
    else:
        is_incomplete = case.protocol_done in ("partial", "nothing_usable")
    if is_incomplete or visit.incomplete_reason is not None:
        done = None if planned is None else len(planned & there)
        plan = None if planned is None else len(planned)
        yield Finding("incomplete", None, visit.incomplete_reason, done, plan)
