"""The fixation interval has both its ends, the first before the second."""

from __future__ import annotations

from collections.abc import Iterator

from registry.intake.checks.draft import Draft
from registry.intake.faults import Fault


def fixation(draft: Draft) -> Iterator[Fault]:
    for position, one in draft.each():
        start, end = one.get("fixation_from_s"), one.get("fixation_to_s")
        pointer = f"/irrigations/{position}"
        if start is not None and end is not None:
            if start >= end:
                yield Fault(f"{pointer}/fixation_to_s", "fixation_ends_before_start")
        elif start is not None and not draft.was_sent(one, "fixation_to_s", pointer):
            # Beats during fixation must stay out of the peak; with one end unknown they cannot.
            yield Fault(f"{pointer}/fixation_to_s", "fixation_interval_open")
        elif end is not None and not draft.was_sent(one, "fixation_from_s", pointer):
            yield Fault(f"{pointer}/fixation_from_s", "fixation_interval_open")
