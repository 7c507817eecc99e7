"""What is said about the use of an irrigation does not contradict itself."""

from __future__ import annotations

from collections.abc import Iterator

from registry.intake.checks.draft import Draft
from registry.intake.faults import Fault


def usable(draft: Draft) -> Iterator[Fault]:
    """A reason why a response cannot be used belongs to one that is said to be not usable.

    The reason itself may be absent: the wide table has no column for it.
    """
    for position, one in draft.each():
        if one.get("usable") is False:
            if one.get("counts"):
                yield Fault(f"/irrigations/{position}/counts", "counts_but_not_usable")
        elif one.get("unusable_reason"):
            pointer = f"/irrigations/{position}"
            if "usable" in one or not draft.was_sent(one, "usable", pointer):
                yield Fault(f"{pointer}/unusable_reason", "unusable_reason_but_usable")
