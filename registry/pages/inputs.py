"""Inputs of a form, made from the same field lists that the checks read.

What was typed is turned into the value a program would have sent; what cannot be turned is
passed on as it was typed, so that one set of checks finds every fault.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

from registry.intake.faults import IDENTIFIER_CODE, Fault
from registry.intake.fields import Field
from registry.pages.labels import hint_of, label_of, unit_words
from registry.pages.words import say
from registry.roster.catalogue import DETAIL

Texts = Mapping[str, Sequence[str]]
Choices = Sequence[tuple[str, str]]

# The catalogue speaks to programs; these few would puzzle a person in front of a form.
IN_A_FORM: Final[dict[str, str]] = {
    "required": "This is needed. Fill it in.",
    "not_in_list": "Choose one of the list.",
    "not_a_number": "A number belongs here, with a decimal point and without a unit.",
    "not_a_time": "A time belongs here, hours and minutes.",
    "list_empty": "Enter at least one irrigation.",
    "temperature_contradicts_stimulus": (
        "Warm is set above 37 °C, cool and ice below. Correct the temperature or the stimulus."
    ),
    "code_in_use": "This code is in use already. Choose another one.",
    "check_differs": "Another reading is recorded for this moment. Withdraw it, or give the time.",
    "visit_ref_changed": "The code of a visit stays. For another code, enter another visit.",
    "peak_needed": "Enter the peak, or say that the response is not usable.",
}


@dataclass(frozen=True, slots=True)
class Input:
    """One labelled input: ``value`` (``values`` of a list) as typed, ``problems`` in sentences."""

    name: str
    label: str
    kind: str
    hint: str = ""
    unit: str = ""
    needed: bool = False
    value: str = ""
    values: tuple[str, ...] = ()
    choices: Choices = ()
    problems: tuple[str, ...] = ()
    place: str = ""
    # What the empty choice of a list says; without it the list has none.
    blank: str = "not recorded"

    def within(self, place: str) -> Input:
        """The same input where its form is one of several on a page: its id must differ."""
        return replace(self, place=place)

    @property
    def id(self) -> str:
        name = self.name.replace(".", "-").replace("_", "-")
        return f"f-{self.place}-{name}" if self.place else f"f-{name}"

    @property
    def described_by(self) -> str:
        """Ids of the hint and the problems, as ``aria-describedby`` wants them."""
        parts = [f"{self.id}-hint"] if self.hint else []
        return " ".join(parts + ([f"{self.id}-problem"] if self.problems else []))


@dataclass(frozen=True, slots=True)
class Problem:
    """One line of the summary above a form; ``target`` is the id of its input, or empty."""

    target: str
    label: str
    sentence: str


@dataclass(slots=True)
class FormState:
    """What was typed, and what was wrong with it, by the names of the inputs."""

    texts: Texts = field(default_factory=dict)
    codes: dict[str, list[str]] = field(default_factory=dict)

    @classmethod
    def of(cls, texts: Texts, faults: Iterable[Fault] = ()) -> FormState:
        state = cls(texts)
        for fault in faults:
            state.codes.setdefault(name_of_pointer(fault.pointer), []).append(fault.code)
        return state

    def typed(self, name: str) -> tuple[str, ...]:
        """What stands in an input; nothing where it looked like an identifier: never echoed."""
        if IDENTIFIER_CODE in self.codes.get(name, ()):
            return ()
        return tuple(self.texts.get(name, ()))

    def problems(self, name: str) -> tuple[str, ...]:
        return tuple(sentence(code) for code in self.codes.get(name, ()))


def name_of_pointer(pointer: str) -> str:
    """``/irrigations/0/ear`` as the name of its input, ``irrigations.0.ear``."""
    return pointer.strip("/").replace("/", ".")


def sentence(code: str) -> str:
    return IN_A_FORM.get(code) or DETAIL.get(code) or code.replace("_", " ")


def make_input(
    one: Field,
    state: FormState,
    *,
    name: str | None = None,
    choices: Choices | None = None,
    blank: str = "not recorded",
) -> Input:
    """The input of a field; ``choices`` turns a code into a list to choose from."""
    name = name or one.name
    typed = state.typed(name)
    short = name.rpartition(".")[2] if name.startswith("irrigations.") else name
    return Input(
        name=name,
        label=label_of(short),
        kind=_kind(one, choices),
        hint=hint_of(short),
        unit=unit_words(one.unit),
        needed=one.needed,
        value=typed[0] if typed else "",
        values=typed,
        choices=_choices(one, short, choices),
        blank="choose" if one.needed else blank,
        problems=state.problems(name),
    )


def _kind(one: Field, choices: Choices | None) -> str:
    if choices is not None or one.kind in ("word", "yes_no"):
        return "select"
    return {"words": "many", "number": "number", "whole": "number", "date": "date"}.get(
        one.kind, one.kind
    )


def _choices(one: Field, name: str, choices: Choices | None) -> Choices:
    if choices is not None:
        return choices
    if one.kind == "yes_no":
        return (("true", "yes"), ("false", "no"))
    return tuple((word, say(name, word)) for word in one.words)


def read_input(one: Field, texts: Texts, name: str) -> Any:
    """The value a program would have sent for what was typed; ``None`` for nothing."""
    typed = [text.strip() for text in texts.get(name, ()) if text.strip()]
    if not typed:
        return None
    if one.kind == "words":
        return typed
    text = typed[0]
    if one.kind == "yes_no":
        return {"true": True, "false": False}.get(text, text)
    if one.kind in ("number", "whole"):
        return _number(text)
    return text


def _number(text: str) -> object:
    """A number where the text is plainly one; otherwise the text, for the checks to refuse."""
    try:
        return int(text) if text.lstrip("+-").isdigit() else float(text)
    except ValueError:
        return text


def read_fields(fields: Iterable[Field], texts: Texts, prefix: str = "") -> dict[str, Any]:
    """The typed values of some fields, without those left blank."""
    found = {one.name: read_input(one, texts, f"{prefix}{one.name}") for one in fields}
    return {name: value for name, value in found.items() if value is not None}


def summary(state: FormState, shown: Iterable[Input], labels: Mapping[str, str]) -> list[Problem]:
    """Every problem of a form in one list: those of inputs first, in their order."""
    by_name = {one.name: one for one in shown}
    ordered = [name for name in by_name if name in state.codes]
    ordered += [name for name in state.codes if name not in by_name]
    return [
        Problem(
            target=by_name[name].id if name in by_name else "",
            label=labels.get(name) or label_of(name) or "This form",
            sentence=said,
        )
        for name in ordered
        for said in state.problems(name)
    ]
