"""The day of the visit lies between the oldest result taken and today."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Final

from registry.intake.checks.draft import Draft
from registry.intake.faults import Fault

OLDEST: Final = date(1990, 1, 1)


def visit_day(draft: Draft) -> Iterator[Fault]:
    """``today`` is the clinic's own day, which may be tomorrow for the server."""
    day = draft.visit.get("visit_date")
    if day is None:
        return
    if day > draft.today:
        yield Fault("/visit_date", "date_in_future")
    elif day < OLDEST:
        yield Fault("/visit_date", "date_too_old")
