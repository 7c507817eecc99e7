"""Only a steady horizontal spontaneous nystagmus can have been removed from the peaks."""

from __future__ import annotations

from collections.abc import Iterator

from registry.intake.checks.draft import Draft
from registry.intake.faults import Fault


def spontaneous(draft: Draft) -> Iterator[Fault]:
    """What changes direction, is vertical or lifelong has no one speed to take away."""
    group = draft.visit.get("spontaneous", {})
    if group.get("handling") != "removed" or group.get("kind") == "steady_horizontal":
        return
    if "kind" in group or not draft.was_sent(group, "kind", "/spontaneous"):
        yield Fault("/spontaneous/handling", "removed_needs_steady_horizontal")
