"""A usable irrigation has a response: a peak, or the beats to compute one from."""

from __future__ import annotations

from collections.abc import Iterator

from registry.intake.checks.draft import Draft
from registry.intake.faults import Fault


def peak(draft: Draft) -> Iterator[Fault]:
    for position, one in draft.each():
        if "peak_spv" in one or "beats" in one or one.get("usable") is False:
            continue
        pointer = f"/irrigations/{position}"
        if not (draft.was_sent(one, "peak_spv", pointer) or draft.was_sent(one, "beats", pointer)):
            yield Fault(f"{pointer}/peak_spv", "peak_needed")
