"""The shape of a visit: known fields only, each of its kind. Fills a draft, judges no meaning."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import tzinfo
from typing import Final

from registry.caloric.visit import Beats
from registry.intake.checks.beat_lists import check_beats
from registry.intake.checks.draft import Draft, Values
from registry.intake.checks.values import Checker, Wrong, checker_for, started_at_in
from registry.intake.faults import Fault
from registry.intake.fields import (
    GROUPS,
    IRRIGATION_FIELDS,
    MOST_IRRIGATIONS,
    VISIT_FIELDS,
    Field,
)

Table = Mapping[str, Checker]


def _untouched(value: object) -> object:
    """Stands for what has members of its own and is read by another step."""
    return value


def _table(fields: tuple[Field, ...], *nested: str) -> dict[str, Checker]:
    return {field.name: checker_for(field) for field in fields} | dict.fromkeys(nested, _untouched)


_VISIT: Final = _table(VISIT_FIELDS, *GROUPS, "irrigations")
_GROUPS: Final = {name: _table(fields) for name, fields in GROUPS.items()}
_IRRIGATION: Final = _table(IRRIGATION_FIELDS, "beats")
_NEEDED: Final = tuple(field.name for field in VISIT_FIELDS if field.needed)
_NEEDED_IN_IRRIGATION: Final = tuple(field.name for field in IRRIGATION_FIELDS if field.needed)


def read_shape(data: object, draft: Draft, *, zone: tzinfo | None = None) -> None:
    """Put what can be read of ``data`` into the draft, with a fault for all that cannot."""
    if type(data) is not dict:
        draft.faults.append(Fault("", "not_an_object"))
        return
    draft.visit = _members(data, _VISIT, "", draft.faults)
    for name, table in _GROUPS.items():
        if name in draft.visit:
            _read_group(draft, name, table)
    _read_irrigations(draft, zone)
    if not draft.reduced:
        _report_missing(draft, draft.visit, _NEEDED, "")


def _members(data: Values, table: Table, pointer: str, faults: list[Fault]) -> Values:
    kept: Values = {}
    for position, (name, value) in enumerate(data.items(), 1):
        check = table.get(name)
        if check is None:
            # Only its place is told: a name nobody expects may be somebody's.
            faults.append(Fault(pointer, "unknown_field", position))
        elif value is not None:  # null says "not recorded", as leaving the field out does
            checked = check(value)
            if checked.__class__ is Wrong:
                faults.append(Fault(f"{pointer}/{name}", checked.code))
            else:
                kept[name] = checked
    return kept


def _read_group(draft: Draft, name: str, table: Table) -> None:
    group = draft.visit.pop(name)
    if type(group) is not dict:
        draft.faults.append(Fault(f"/{name}", "not_an_object"))
        return
    kept = _members(group, table, f"/{name}", draft.faults)
    if kept:  # an empty group says no more than none
        draft.visit[name] = kept


def _read_irrigations(draft: Draft, zone: tzinfo | None) -> None:
    sent = draft.visit.pop("irrigations", None)
    if sent is None:
        draft.faults.append(Fault("/irrigations", "required"))
    elif type(sent) is not list:
        draft.faults.append(Fault("/irrigations", "not_a_list"))
    elif not sent:
        draft.faults.append(Fault("/irrigations", "list_empty"))
    elif len(sent) > MOST_IRRIGATIONS:
        draft.faults.append(Fault("/irrigations", "list_too_long"))
    else:
        table = _IRRIGATION if zone is None else {**_IRRIGATION, "started_at": started_at_in(zone)}
        draft.irrigations = [
            _irrigation(one, table, f"/irrigations/{position}", draft)
            for position, one in enumerate(sent)
        ]


def _irrigation(sent: object, table: Table, pointer: str, draft: Draft) -> Values | None:
    if type(sent) is not dict:
        draft.faults.append(Fault(pointer, "not_an_object"))
        return None
    kept = _members(sent, table, pointer, draft.faults)
    if "beats" in kept:
        beats = check_beats(kept.pop("beats"), f"{pointer}/beats")
        if isinstance(beats, Beats):
            kept["beats"] = beats
        else:
            draft.faults.extend(beats)
    if not ("ear" in kept and "stimulus" in kept):
        _report_missing(draft, kept, _NEEDED_IN_IRRIGATION, pointer)
    return kept


def _report_missing(draft: Draft, values: Values, names: tuple[str, ...], pointer: str) -> None:
    for name in names:
        if name not in values and not draft.was_sent(values, name, pointer):
            draft.faults.append(Fault(f"{pointer}/{name}", "required"))
