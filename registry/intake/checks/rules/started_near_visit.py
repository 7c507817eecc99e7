"""An irrigation starts on the day of its visit."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Final

from registry.intake.checks.draft import Draft
from registry.intake.faults import Fault

# Times are kept in UTC, where a test in the far east or west falls on a neighbouring day.
_FARTHEST: Final = timedelta(days=1)


def started_near_visit(draft: Draft) -> Iterator[Fault]:
    day = draft.visit.get("visit_date")
    if day is None:
        return
    for position, one in draft.each():
        started = one.get("started_at")
        if started is not None and abs(started.date() - day) > _FARTHEST:
            yield Fault(f"/irrigations/{position}/started_at", "started_at_not_on_visit_date")
