"""One sentence a finding: what was seen, against what, in plain words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from registry.pages.figures import difference_words, percent_words, rounded
from registry.pages.words import INDEX_NAMES, irrigation_name, say

SAFETY: Final = "open_water_with_open_drum"


@dataclass(frozen=True, slots=True)
class SaidFinding:
    """A finding ready to be read: what, where, and the sentence."""

    code: str
    title: str
    where: str
    sentence: str

    @property
    def is_safety(self) -> bool:
        return self.code == SAFETY


def said_finding(finding: Mapping[str, Any]) -> SaidFinding:
    """Words for one stored finding (``code irrigation detail value limit``)."""
    make = _SENTENCES.get(finding["code"])
    return SaidFinding(
        code=finding["code"],
        title=say("finding", finding["code"]),
        where=irrigation_name(finding.get("irrigation")),
        sentence=make(_Parts(finding)) if make else "",
    )


def grouped(findings: Iterable[Mapping[str, Any]]) -> list[SaidFinding]:
    """The findings in their order, those that say the same of several irrigations as one."""
    places: dict[tuple[str, str], SaidFinding] = {}
    for one in map(said_finding, findings):
        key = (one.code, one.sentence)
        before = places.get(key)
        places[key] = replace(before, where=f"{before.where}; {one.where}") if before else one
    return list(places.values())


class _Parts:
    """The parts of a finding, numbers as text; a missing one is "not known"."""

    def __init__(self, finding: Mapping[str, Any]) -> None:
        self.detail: str | None = finding.get("detail")
        self.value: float | None = finding.get("value")
        self.limit: float | None = finding.get("limit")

    def number(self, places: int = 1) -> str:
        return "not known" if self.value is None else rounded(abs(self.value), places)

    def edge(self, places: int = 1) -> str:
        return "not known" if self.limit is None else rounded(abs(self.limit), places)

    def difference(self, unit: str, above: str, below: str, places: int = 1) -> str:
        return difference_words(self.value or 0.0, unit, above=above, below=below, places=places)


def _drum(f: _Parts) -> str:
    return (
        f"Water flowed into an ear recorded with: {say('otoscopy.right', f.detail)}."
        " Never water into an ear with a possibly perforated drum."
    )


def _no_check(f: _Parts) -> str:
    if f.value is None:
        return "No check of this stimulus and set temperature was recorded before it."
    return f"The last check was {f.number(0)} days before; one counts for {f.edge(0)} days."


def _rest(f: _Parts) -> str:
    if f.value is not None and f.value < 0:
        return f"It started {f.number(0)} s before the one before it had ended."
    return f"{f.number(0)} s of rest before it; at least {f.edge(0)} s are asked for."


def _reported(f: _Parts) -> str:
    name, _, equals = (f.detail or "").partition(":")
    said = f"The printed {INDEX_NAMES.get(name, 'figure')} is more than {f.edge(0)} point off"
    return f"{said}; {say('reported_equals', equals)}." if equals else f"{said}."


def _sign(f: _Parts) -> str:
    left = percent_words("gain_asymmetry", f.value or 0.0)
    return (
        f"With the sign as recorded, {left} remains unexplained (limit {f.edge(0)} %);"
        " with the sign turned, the nystagmus explains the preponderance."
    )


def _incomplete(f: _Parts) -> str:
    reason = f"Recorded reason: {say('incomplete_reason', f.detail)}."
    if f.value is None or f.limit is None:
        return reason
    return f"{f.number(0)} of {f.edge(0)} planned responses are usable. {reason}"


def _inverted(f: _Parts) -> str:
    return (
        f"{f.number()} deg/s against the expected direction once the spontaneous nystagmus is"
        f" taken out (from {f.edge()} deg/s). The response is kept as it was recorded."
    )


def _opposite(f: _Parts) -> str:
    return (
        f"{f.number()} deg/s against the expected direction as recorded. The spontaneous"
        " nystagmus is not known well enough to say why."
    )


_SENTENCES: Final[Mapping[str, Callable[[_Parts], str]]] = {
    SAFETY: _drum,
    "temperature_out_of_tolerance": lambda f: (
        f"{f.difference('°C', 'warmer than set', 'cooler than set')}; tolerance {f.edge()} °C."
    ),
    "no_current_temperature_check": _no_check,
    "after_failed_check": lambda f: f"That check was {f.number(0)} days before.",
    "before_failed_check": lambda f: f"That check was {f.number(0)} days after.",
    "unequal_set_temperature": lambda f: (
        f"{say('stimulus', f.detail).capitalize()}:"
        f" {f.difference('°C', 'warmer on the right', 'warmer on the left')}."
    ),
    "mixed_medium": lambda f: f"{say('media_differ', f.detail).capitalize()}.",
    "short_rest": _rest,
    "duration_out_of_tolerance": lambda f: (
        f"{f.difference('s', 'longer than planned', 'shorter than planned', 0)};"
        f" tolerance {f.edge(0)} s."
    ),
    "inverted_response": _inverted,
    "opposite_to_expected_cause_unknown": _opposite,
    "labels_possibly_exchanged": lambda f: (
        f"The directions look as if exchanged: {say('exchanged', f.detail)}."
    ),
    "spontaneous_sign_suspect": _sign,
    "reported_value_differs": _reported,
    "peak_differs_from_beats": lambda f: (
        f"The peak sent is {f.difference('deg/s', 'above', 'below')} the one from its beats;"
        f" up to {f.edge()} deg/s may lie between them."
    ),
    "single_odd_response": lambda f: (
        f"It is {f.number(2)} times what the other three suggest (named from a factor of"
        f" {f.edge()}). This is the irrigation worth repeating."
    ),
    "counted_attempt_not_last": lambda f: (
        f"Attempt {f.number(0)} counts; the last usable one is attempt {f.edge(0)}."
    ),
    "repeat_without_reason": lambda f: "It does not say why the irrigation was repeated.",
    "vertical_component_present": lambda f: (
        f"The response had a part that was {say('vertical_component', f.detail)}."
    ),
    "incomplete": _incomplete,
    "unsteady_percentages": lambda f: (
        f"The total response is {f.number()} deg/s; under {f.edge(0)} deg/s a small change of"
        " one response moves the percentages a lot."
    ),
}
