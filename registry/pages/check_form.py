"""Two short forms for a temperature check, warm and cool, made for a phone.

The set temperature stands there from the last check, so what is left is to type the reading
and to record it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Any, Final
from uuid import UUID

from registry.models import Clinic
from registry.pages.choices import thermometer_choices
from registry.pages.inputs import FormState, Input, Texts, make_input, read_fields
from registry.roster.fields import CHECK_FIELDS
from registry.roster.temperature_checks import temperature_checks_of

_FIELDS: Final = {one.name: one for one in CHECK_FIELDS}
_MAIN: Final = ("reading_c", "set_temperature_c")
_MORE: Final = (
    "checked_at",
    "thermometer",
    "measured_at",
    "phase",
    "action",
    "flow_l_min",
    "ambient_c",
)


@dataclass(frozen=True, slots=True)
class CheckForm:
    """The form of one stimulus; ``is_asked``: this is the one that was sent."""

    title: str
    stimulus: str
    main: list[Input]
    more: list[Input]
    is_asked: bool

    @property
    def is_open(self) -> bool:
        return self.is_asked and any(one.value or one.problems for one in self.more)


def check_forms(state: FormState, *, clinic: Clinic, irrigator_id: UUID) -> list[CheckForm]:
    """Both forms; what was typed and its problems stand in the one that was sent."""
    last = temperature_checks_of(clinic=clinic).filter(irrigator_id=irrigator_id, withdrawn_at=None)
    asked = (state.texts.get("stimulus") or ("",))[0]
    choices = {"thermometer": thermometer_choices(clinic)}
    forms = []
    for stimulus in ("warm", "cool"):
        own = state
        if stimulus != asked:
            before = last.filter(stimulus=stimulus).first()
            own = FormState(_usual(before.set_temperature_c if before else None))
        forms.append(_form(stimulus, own, choices, is_asked=stimulus == asked))
    return forms


def _usual(set_temperature: float | None) -> dict[str, list[str]]:
    return {} if set_temperature is None else {"set_temperature_c": [f"{set_temperature:g}"]}


def _form(
    stimulus: str, state: FormState, choices: Mapping[str, Any], *, is_asked: bool
) -> CheckForm:
    def inputs(names: tuple[str, ...]) -> list[Input]:
        return [
            make_input(_FIELDS[name], state, choices=choices.get(name)).within(stimulus)
            for name in names
        ]

    return CheckForm(stimulus.capitalize(), stimulus, inputs(_MAIN), inputs(_MORE), is_asked)


def sent_check(texts: Texts, *, irrigator: str, now: datetime, zone: tzinfo) -> dict[str, Any]:
    """The check as a program would send it; without a time it was taken now."""
    data = read_fields(CHECK_FIELDS, texts) | {"irrigator": irrigator}
    if "checked_at" not in data:
        return data | {"checked_at": now.isoformat()}
    return data | {"checked_at": _moment(data["checked_at"], zone)}


def _moment(text: str, zone: tzinfo) -> str:
    """A time typed without an offset is the clinic's own time."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return text
    return (moment if moment.tzinfo else moment.replace(tzinfo=zone)).isoformat()
