"""What the forms of testers, devices and temperature checks share."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from registry.intake.fields import Field
from registry.pages.inputs import Choices, FormState, Input, Texts, make_input, read_fields


def roster_inputs(
    fields: Iterable[Field], state: FormState, choices: Mapping[str, Choices] | None = None
) -> list[Input]:
    return [make_input(one, state, choices=(choices or {}).get(one.name)) for one in fields]


def sent_new(fields: Iterable[Field], texts: Texts) -> dict[str, Any]:
    """A new entry as a program would send it, blank fields left out."""
    return read_fields(fields, texts)


def sent_change(fields: Iterable[Field], texts: Texts) -> dict[str, Any]:
    """A change as a program would send it: a field emptied on the form is sent as ``None``."""
    changeable = [one for one in fields if one.name != "code"]
    return dict.fromkeys((one.name for one in changeable), None) | read_fields(changeable, texts)


def change_texts(fields: Iterable[Field], entry: object) -> dict[str, list[str]]:
    """What stands in an entry now, as it would be typed."""
    values = {one.name: getattr(entry, one.name) for one in fields}
    return {name: [str(value)] for name, value in values.items() if value is not None}


def code_taken(texts: Texts) -> FormState:
    return FormState(texts, {"code": ["code_in_use"]})
