"""A usable irrigation has a response: a peak, or the beats to compute one from.

A peak said to be computed by the registry came back from it, and is computed again from the
beats that must stand beside it: a figure of ours is not taken on somebody's word.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from registry.intake.checks.draft import Draft
from registry.intake.faults import Fault

COMPUTED: Final = "computed_v1"


def peak(draft: Draft) -> Iterator[Fault]:
    for position, one in draft.each():
        if one.get("peak_basis") == COMPUTED and not draft.was_sent(
            one, "beats", f"/irrigations/{position}"
        ):
            yield Fault(f"/irrigations/{position}/peak_basis", "computed_without_beats")
        if "peak_spv" in one or "beats" in one or one.get("usable") is False:
            continue
        pointer = f"/irrigations/{position}"
        if not (draft.was_sent(one, "peak_spv", pointer) or draft.was_sent(one, "beats", pointer)):
            yield Fault(f"{pointer}/peak_spv", "peak_needed")
