"""A roster entry as it was sent: known fields, each of its kind, every fault at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, tzinfo
from typing import Any

from registry.intake.checks.values import Checker, Wrong, checker_for, started_at_in
from registry.intake.faults import Fault
from registry.intake.fields import Field

Values = dict[str, Any]


class RosterRefused(Exception):
    """What was sent cannot be kept; ``faults`` says all that is wrong, never a value."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__(", ".join(sorted({fault.code for fault in faults})))
        self.faults = faults


def read_new(data: object, fields: tuple[Field, ...], *, zone: tzinfo) -> Values:
    """Every field of a new entry; one that was not sent is ``None``.

    :raises RosterRefused: unknown field, wrong kind, or a needed one missing.
    """
    kept, faults = _members(data, fields, zone)
    faulty = {fault.pointer for fault in faults}
    for field in fields:
        missing = field.needed and kept.get(field.name) is None
        if missing and type(data) is dict and f"/{field.name}" not in faulty:
            faults.append(Fault(f"/{field.name}", "required"))
    if faults:
        raise RosterRefused(faults)
    return {field.name: kept.get(field.name) for field in fields}


def read_change(
    data: object, fields: tuple[Field, ...], *, fixed: Iterable[str], zone: tzinfo
) -> Values:
    """Only the fields that were sent; ``None`` empties one. Those in ``fixed`` stay as they are.

    :raises RosterRefused: as ``read_new``, or a fixed field, or nothing at all was sent.
    """
    kept, faults = _members(data, fields, zone)
    faults += [Fault(f"/{name}", "not_changeable") for name in fixed if name in kept]
    if type(data) is dict and not data:
        faults.append(Fault("", "nothing_to_change"))
    if faults:
        raise RosterRefused(faults)
    return kept


def refuse_backwards(values: Mapping[str, Any], first: str, last: str) -> None:
    """:raises RosterRefused: if the day under ``last`` lies before the day under ``first``."""
    start, end = values.get(first), values.get(last)
    if isinstance(start, date) and isinstance(end, date) and end < start:
        raise RosterRefused([Fault(f"/{last}", "ends_before_start")])


def _members(data: object, fields: tuple[Field, ...], zone: tzinfo) -> tuple[Values, list[Fault]]:
    if type(data) is not dict:
        return {}, [Fault("", "not_an_object")]
    checkers = {field.name: _checker(field, zone) for field in fields}
    kept: Values = {}
    faults: list[Fault] = []
    for position, (name, value) in enumerate(data.items(), 1):
        check = checkers.get(name)
        if check is None:
            # Only its place is told: a name nobody expects may be somebody's.
            faults.append(Fault("", "unknown_field", position))
            continue
        checked = None if value is None else check(value)
        if isinstance(checked, Wrong):
            faults.append(Fault(f"/{name}", checked.code))
        else:
            kept[name] = checked
    return kept, faults


def _checker(field: Field, zone: tzinfo) -> Checker:
    # A time without an offset is the clinic's own time, as it is in a visit.
    return started_at_in(zone) if field.kind == "time" else checker_for(field)
