"""The entry form of one visit: which inputs it has, and what it sends.

Eight irrigations fit by hand: the four cells first, then room for repeats and ice. A row in
which nothing was typed is not sent.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, time, tzinfo
from typing import Any, Final

from registry.intake.faults import Fault
from registry.intake.fields import GROUPS, IRRIGATION_FIELDS, VISIT_FIELDS, Field
from registry.pages.inputs import (
    Choices,
    FormState,
    Input,
    Problem,
    Texts,
    make_input,
    read_fields,
    summary,
)
from registry.pages.words import irrigation_name

ROWS: Final = 8
FIRST_CELLS: Final = (("right", "warm"), ("left", "warm"), ("right", "cool"), ("left", "cool"))
# Always there, so typing nothing else in a row means that it was not irrigated.
_PRESET: Final = frozenset({"ear", "stimulus", "origin"})
SETTINGS: Final = (
    Field("warm_temperature_c", "number", "Set temperature of the warm irrigations.", unit="Cel"),
    Field("cool_temperature_c", "number", "Set temperature of the cool irrigations.", unit="Cel"),
)
_VISIT: Final = {one.name: one for one in VISIT_FIELDS}
_IRRIGATION: Final = {one.name: one for one in IRRIGATION_FIELDS}
# What nothing chosen means in an irrigation, where it is not "not recorded".
_BLANK: Final = {
    "tester": "as above",
    "irrigator": "as above",
    "medium": "as above",
    "usable": "yes, unless said",
    "counts": "not said",
}
# In sight of everyone; all others of an irrigation stand folded below them.
_IN_SIGHT: Final = (
    "ear",
    "stimulus",
    "attempt",
    "peak_spv",
    "beat_direction",
    "pre_fixation_spv",
    "fixation_spv",
    "duration_s",
)


@dataclass(frozen=True, slots=True)
class RosterChoices:
    """The clinic's codes to choose from."""

    testers: Choices = ()
    irrigators: Choices = ()
    recorders: Choices = ()

    def of(self, name: str) -> Choices | None:
        kinds = {
            "tester": self.testers,
            "irrigator": self.irrigators,
            "recorder": self.recorders,
            "peak_set_by": self.testers,
        }
        return kinds.get(name)


@dataclass(frozen=True, slots=True)
class FormRow:
    """The inputs of one irrigation; ``is_open``: something in its folded part needs a look."""

    title: str
    main: list[Input]
    more: list[Input]
    hidden: list[tuple[str, str]]
    is_extra: bool
    problems: tuple[str, ...]

    @property
    def is_open(self) -> bool:
        return any(one.value or one.problems for one in self.more)


@dataclass(frozen=True, slots=True)
class VisitForm:
    """All inputs, in the sections of the page."""

    sections: list[tuple[str, list[Input]]]
    settings: list[Input]
    rows: list[FormRow]
    closing: list[tuple[str, list[Input]]]
    problems: list[Problem] = field(default_factory=list)

    @property
    def extra_is_open(self) -> bool:
        return any(
            one.value or one.problems
            for row in self.rows
            if row.is_extra
            for one in (*row.main, *row.more)
        )


def visit_form(state: FormState, roster: RosterChoices) -> VisitForm:
    """The form as it is shown: what was typed, and every problem beside its input."""

    def visit(*names: str) -> list[Input]:
        return [make_input(_VISIT[name], state, choices=roster.of(name)) for name in names]

    def group(name: str) -> list[Input]:
        return [make_input(one, state, name=f"{name}.{one.name}") for one in GROUPS[name]]

    sections = [
        ("Codes", visit("visit_ref", "subject_ref")),
        ("Visit", visit("visit_date", "age_years", "sex", "visit_kind")),
        ("Ears, looked into before the test", group("otoscopy")),
        ("Spontaneous nystagmus, before the first irrigation", group("spontaneous")),
        ("How", visit("tester", "irrigator", "recorder", "medium", "protocol_planned")),
    ]
    closing = [
        ("After the test", visit("incomplete_reason", "adverse_event")),
        ("Recording", [*group("recording"), *visit("head_elevation_deg")]),
        ("Background", group("background")),
        ("What the clinic's own system printed", group("reported")),
    ]
    settings = [
        # Nothing chosen would mean the first of the list all the same; so it is said.
        make_input(_VISIT["sign_convention"], state, blank=""),
        *(make_input(one, state) for one in SETTINGS),
    ]
    rows = [_row(place, state, roster) for place in range(rows_needed(state.texts))]
    shown = [one for _, inputs in (*sections, *closing) for one in inputs] + settings
    inputs = [*shown, *(one for row in rows for one in (*row.main, *row.more))]
    return VisitForm(
        sections=sections,
        settings=settings,
        rows=rows,
        closing=closing,
        problems=summary(state, inputs, _row_labels(rows)),
    )


def rows_needed(texts: Texts) -> int:
    """Eight, or more where a stored visit already holds more."""
    typed = [int(name.split(".")[1]) for name in texts if _is_row_name(name)]
    return max(ROWS, *(place + 1 for place in typed)) if typed else ROWS


def _is_row_name(name: str) -> bool:
    parts = name.split(".")
    # A made-up row number in a request must not make a million rows.
    return (
        len(parts) == 3 and parts[0] == "irrigations" and parts[1].isdigit() and int(parts[1]) < 16
    )


def _row(place: int, state: FormState, roster: RosterChoices) -> FormRow:
    at = f"irrigations.{place}"
    seen = _with_preset(place, state)
    inputs = {
        name: make_input(
            one,
            seen,
            name=f"{at}.{name}",
            choices=roster.of(name),
            blank=_BLANK.get(name, "not recorded"),
        )
        for name, one in _IRRIGATION.items()
    }
    ear, stimulus = inputs["ear"].value, inputs["stimulus"].value
    title = irrigation_name(f"{ear}_{stimulus}_1") if ear and stimulus else "one more"
    kept = [f"{at}.origin", f"{at}.started_on"]
    return FormRow(
        title=f"Irrigation {place + 1}: {title}",
        main=[inputs[name] for name in _IN_SIGHT],
        more=[one for name, one in inputs.items() if name not in _IN_SIGHT],
        hidden=[(name, seen.typed(name)[0]) for name in kept if seen.typed(name)],
        is_extra=place >= len(FIRST_CELLS),
        problems=state.problems(at),
    )


def _with_preset(place: int, state: FormState) -> FormState:
    """The first four rows name their cells until somebody chooses otherwise."""
    if place >= len(FIRST_CELLS) or f"irrigations.{place}.ear" in state.texts:
        return state
    ear, stimulus = FIRST_CELLS[place]
    preset = {f"irrigations.{place}.ear": [ear], f"irrigations.{place}.stimulus": [stimulus]}
    return FormState({**state.texts, **preset}, state.codes)


def _row_labels(rows: list[FormRow]) -> dict[str, str]:
    labels = {f"irrigations.{place}": row.title for place, row in enumerate(rows)}
    for row in rows:
        for one in (*row.main, *row.more):
            labels[one.name] = f"{row.title}: {one.label.lower()}"
    return labels


@dataclass(frozen=True, slots=True)
class Sent:
    """A visit as the form sends it; ``places`` are the rows its irrigations came from.

    ``settings`` are the inputs above the rows that gave an irrigation (by its number) its
    temperature.
    """

    data: dict[str, Any]
    places: list[int]
    settings: dict[int, str]

    def back_to_form(self, faults: Iterable[Fault]) -> list[Fault]:
        """The same faults, pointing at the inputs that were filled in, each once."""
        turned = (fault._replace(pointer=self._pointer(fault.pointer)) for fault in faults)
        return list(dict.fromkeys(turned))

    def _pointer(self, pointer: str) -> str:
        parts = pointer.split("/")
        if len(parts) > 2 and parts[1] == "irrigations" and parts[2].isdigit():
            if parts[3:] == ["set_temperature_c"] and int(parts[2]) in self.settings:
                return f"/{self.settings[int(parts[2])]}"
            parts[2] = str(self.places[int(parts[2])])
        return "/".join(parts)


def read_visit_form(texts: Texts, *, zone: tzinfo) -> Sent:
    """The visit that was typed, in the form a program would send."""
    data = read_fields(VISIT_FIELDS, texts)
    for name, fields in GROUPS.items():
        if held := read_fields(fields, texts, f"{name}."):
            data[name] = held
    settings = read_fields(SETTINGS, texts)
    places: list[int] = []
    irrigations: list[dict[str, Any]] = []
    borrowed: dict[int, str] = {}
    for place in range(rows_needed(texts)):
        one = read_fields(IRRIGATION_FIELDS, texts, f"irrigations.{place}.")
        if set(one) - _PRESET:
            setting = f"{one.get('stimulus')}_temperature_c"
            if setting in settings and "set_temperature_c" not in one:
                one["set_temperature_c"] = settings[setting]
                borrowed[len(places)] = setting
            places.append(place)
            irrigations.append(_sent(one, place, texts, data.get("visit_date"), zone))
    data["irrigations"] = irrigations
    return Sent(data, places, borrowed)


def _sent(
    one: dict[str, Any],
    place: int,
    texts: Texts,
    visit_date: object,
    zone: tzinfo,
) -> dict[str, Any]:
    if "started_at" in one:
        started_on = texts.get(f"irrigations.{place}.started_on", ())
        day = started_on[0] if started_on else visit_date
        one["started_at"] = _moment(one["started_at"], day, zone)
    return one


def _moment(clock: str, day: object, zone: tzinfo) -> str:
    """A time of day on the day of the visit, in the clinic's zone, as a program would send it."""
    try:
        moment = datetime.combine(date.fromisoformat(str(day)), time.fromisoformat(clock), zone)
    except ValueError:
        return clock
    return moment.isoformat()
