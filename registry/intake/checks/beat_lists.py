"""The beats of one irrigation: two lists of numbers, equally long, in order of time."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import partial
from typing import Final

from registry.caloric.visit import Beats
from registry.intake.checks.values import Checker, Wrong, number
from registry.intake.faults import Fault
from registry.intake.fields import LAST_BEAT_S, MOST_BEATS

# A single beat can be an artefact far faster than any peak; common practice, no source.
_FASTEST_BEAT: Final = 1_000.0
_LIMITS: Final = {"time_s": (0.0, LAST_BEAT_S), "spv": (-_FASTEST_BEAT, _FASTEST_BEAT)}
_CHECKERS: Final[dict[str, Checker]] = {
    name: partial(number, *limits) for name, limits in _LIMITS.items()
}
# A list that is wrong throughout would bury every other fault of the visit.
_FAULTS_A_LIST: Final = 10


def check_beats(value: object, pointer: str) -> Beats | list[Fault]:
    """The beats as they are kept, or every fault of them."""
    if type(value) is not dict:
        return [Fault(pointer, "not_an_object")]
    faults = [
        Fault(pointer, "unknown_field", position)
        for position, name in enumerate(value, 1)
        if name not in _LIMITS
    ]
    for name in _LIMITS:
        faults.extend(_list_faults(value.get(name), name, f"{pointer}/{name}"))
    faults = faults or list(_together(value["time_s"], value["spv"], pointer))
    return faults or Beats(_kept(value["time_s"]), _kept(value["spv"]))


def _list_faults(value: object, name: str, pointer: str) -> list[Fault]:
    if value is None:
        return [Fault(pointer, "required")]
    if type(value) is not list:
        return [Fault(pointer, "not_a_list")]
    if len(value) > MOST_BEATS:
        return [Fault(pointer, "list_too_long")]
    return [] if _all_fine(value, *_LIMITS[name]) else list(_item_faults(value, name, pointer))


def _all_fine(value: list[float], low: float, high: float) -> bool:
    """The quick way through: nearly every list is, and a thousand calls would cost 0.2 ms."""
    return (
        {float, int}.issuperset(map(type, value))
        and (not value or (low <= min(value) and max(value) <= high))
        and all(map(math.isfinite, value))
    )


def _item_faults(value: list[object], name: str, pointer: str) -> Iterator[Fault]:
    found = 0
    for index, item in enumerate(value):
        checked = _CHECKERS[name](item)
        if isinstance(checked, Wrong):
            yield Fault(f"{pointer}/{index}", checked.code)
            found += 1
        if found == _FAULTS_A_LIST:
            return


def _together(times: list[float], speeds: list[float], pointer: str) -> Iterator[Fault]:
    if len(times) != len(speeds):
        yield Fault(pointer, "beats_unequal_length")
    if not times:
        yield Fault(f"{pointer}/time_s", "list_empty")
    for index in range(1, len(times)):
        if times[index] <= times[index - 1]:
            yield Fault(f"{pointer}/time_s/{index}", "beats_not_increasing")
            return


def _kept(value: list[float]) -> tuple[float, ...]:
    return tuple([float(item) + 0.0 for item in value])
