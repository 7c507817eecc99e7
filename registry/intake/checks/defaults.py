"""A clinic's own default values, put where a visit is silent, and marked as such."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from registry.caloric.vocabulary import STIMULI

_IRRIGATIONS: Final = "irrigations"


def with_defaults(data: object, defaults: Mapping[str, object]) -> tuple[object, tuple[str, ...]]:
    """A copy of ``data`` with the defaults in it, and the pointers where one was put.

    A key is a dotted path: ``recording.method``; ``irrigations.duration_s`` for every irrigation;
    ``irrigations.warm.set_temperature_c`` for those of one stimulus. ``data`` stays untouched.
    """
    if not isinstance(data, dict):
        return data, ()
    filled = dict(data)
    applied: list[str] = []
    for path, value in defaults.items():
        first, *rest = path.split(".")
        if first == _IRRIGATIONS:
            _fill_irrigations(filled, rest, value, applied)
        elif not rest:
            _fill(filled, first, value, "", applied)
        elif isinstance(filled.get(first) or {}, dict):
            filled[first] = dict(filled.get(first) or {})
            _fill(filled[first], rest[0], value, f"/{first}", applied)
    return filled, tuple(applied)


def _fill_irrigations(
    filled: dict[str, Any], path: list[str], value: object, applied: list[str]
) -> None:
    sent = filled.get(_IRRIGATIONS)
    if not isinstance(sent, list):
        return
    filled[_IRRIGATIONS] = copies = [dict(one) if isinstance(one, dict) else one for one in sent]
    stimulus = path[0] if path[0] in STIMULI else None
    for position, one in enumerate(copies):
        if isinstance(one, dict) and stimulus in (None, one.get("stimulus")):
            _fill(one, path[-1], value, f"/{_IRRIGATIONS}/{position}", applied)


def _fill(
    values: dict[str, Any], name: str, value: object, pointer: str, applied: list[str]
) -> None:
    # A null says "not recorded", as leaving the field out does.
    if values.get(name) is None:
        values[name] = value
        applied.append(f"{pointer}/{name}")
