"""The measures as they stand in their files, in a fixed order."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any, Final, Literal

FOLDER: Final = Path(__file__).parent / "definitions"
GROUPS: Final = ("results", "work", "equipment")
SUBJECTS: Final = ("tester", "irrigator", "clinic")
# Raised when a score or the order of the measures changes: stored sums of another version are
# made anew, never mixed with these.
SCORES_VERSION: Final = 1

Kind = Literal["mean", "share"]
Direction = Literal["both", "higher", "lower"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """One measure: what is counted, which direction matters, from how many visits on, and why.

    ``kind`` is ``mean`` (a bounded score a visit: ``value`` on ``scale``) or ``share`` (events of
    ``numerator`` among occasions of ``denominator``). ``grain`` says what one occasion is: a
    visit, an irrigation, a temperature check, or none where a rule marks months. ``cap_change``
    and ``cap_level`` are the distances in standard errors beyond which a change or a difference
    is put up for review.
    """

    id: str
    title: str
    about: str
    group: str
    grain: str
    kind: Kind
    unit: str
    shown_as: str
    direction: Direction
    minimum_visits: int
    subjects: tuple[str, ...]
    case_mix: tuple[str, ...]
    method: str
    cap_change: float
    cap_level: float
    source: str
    standing: str
    reviewer: str
    reviewed_on: date
    review_by: date
    numerator: str = ""
    denominator: str = ""
    value: str = ""
    scale: str = ""

    @property
    def scored(self) -> bool:
        """Whether visits carry it (as opposed to readings of a thermometer)."""
        return self.grain in ("visit", "irrigation")


@dataclass(frozen=True, slots=True)
class Catalogue:
    """All measures, by group and then by id; the order is that of the stored sums."""

    measures: tuple[Measure, ...]

    def __getitem__(self, measure_id: str) -> Measure:
        """:raises KeyError: if no measure has this id."""
        for measure in self.measures:
            if measure.id == measure_id:
                return measure
        raise KeyError(measure_id)

    def __contains__(self, measure_id: object) -> bool:
        return any(measure.id == measure_id for measure in self.measures)

    def of(self, subject: str) -> tuple[Measure, ...]:
        """The measures of a tester, an irrigator or a clinic that visits carry."""
        return tuple(m for m in self.measures if subject in m.subjects and m.scored)

    @property
    def scored(self) -> tuple[Measure, ...]:
        return tuple(measure for measure in self.measures if measure.scored)


@cache
def catalogue() -> Catalogue:
    """The measures of this release, read from their files once."""
    found = [read_measure(path) for path in sorted(FOLDER.glob("*.toml"))]
    return Catalogue(tuple(sorted(found, key=lambda one: (GROUPS.index(one.group), one.id))))


def read_measure(path: Path) -> Measure:
    """One file as a measure.

    :raises ValueError: if the file's name is not the id, or a word is not of its closed list.
    """
    content: dict[str, Any] = tomllib.loads(path.read_text())
    for name in ("subjects", "case_mix"):
        content[name] = tuple(content[name])
    measure = Measure(**content)
    for value, allowed in (
        (measure.id, (path.stem,)),
        (measure.group, GROUPS),
        (measure.kind, ("mean", "share")),
        (measure.grain, ("visit", "irrigation", "check", "rule")),
        (measure.direction, ("both", "higher", "lower")),
        (measure.standing, ("published", "derived", "from_memory", "common_practice")),
    ):
        if value not in allowed:
            raise ValueError(f"{path.name}: {value!r} is not one of {allowed}")
    return measure
