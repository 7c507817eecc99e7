"""What deserves a look at once, by a plain rule and without comparing anybody.

Each rule marks months of a subject; marked months that follow each other, with at most one month
between, are one episode.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from typing import Any, Final
from uuid import UUID

import numpy as np
from scipy.stats import binom

from analytics.measures import catalogue
from analytics.rollups.merge import CellTable, month_back, whole_devices
from analytics.signals.found import Found

# Two visits in 30 days with three or more responses beating backwards: labels are exchanged.
# Found 99.9 % of exchanges at 0.02 false per 100 tester-years by simulation.
EXCHANGED_DAYS: Final = 30
EXCHANGED_VISITS: Final = 2
# Shares of digits by chance where tenths are kept: one in ten whole, one in fifty a multiple of
# five (derived). From so many peaks, so far beyond chance, and well beyond the colleagues.
DIGITS: Final = {"digits_whole": 0.1, "digits_five": 0.02}
DIGIT_MONTHS: Final = 3
DIGIT_PEAKS: Final = 40
DIGIT_CHANCE: Final = 1e-6
DIGIT_EXCESS: Final = 0.15


@dataclass(frozen=True, slots=True)
class Spell:
    """Marked months that belong together; ``closed`` is None while the last is recent."""

    opened: date
    last: date
    closed: date | None


def spells(months: Iterable[date], *, until: date) -> list[Spell]:
    """Marked months as episodes; one closes once two months in a row are not marked."""
    parts: list[list[date]] = []
    for month in sorted(set(months)):
        if parts and month_back(month, 2) <= parts[-1][-1]:
            parts[-1].append(month)
        else:
            parts.append([month])
    return [Spell(part[0], part[-1], _closed(part[-1], until.replace(day=1))) for part in parts]


def _closed(last: date, until: date) -> date | None:
    closed = month_back(last, -2)
    return closed if closed <= until else None


def digits_found(cells: CellTable, *, until: date) -> list[Found]:
    """Testers whose peaks end in whole numbers or fives far more often than chance allows."""
    found = []
    for measure, chance in DIGITS.items():
        at = [one.id for one in catalogue().scored].index(measure)
        keep = ~whole_devices(cells)
        peaks, events = cells.n[at] * keep, cells.s[at] * keep
        for tester, clinic_id, place in _testers(cells):
            marked = {
                month: figures
                for month in _months_until(cells, place, until)
                if (figures := _digit_figures(cells, place, peaks, events, month, chance))
            }
            found += [
                _by_rule(clinic_id, "tester", tester, measure, spell, marked[spell.opened])
                for spell in spells(marked, until=until)
            ]
    return found


def _testers(cells: CellTable) -> Iterable[tuple[UUID, int, np.ndarray[Any, Any]]]:
    ids = np.array([str(one) for one in cells.testers])
    for tester in sorted(set(cells.testers), key=str):
        place = np.flatnonzero(ids == str(tester))
        yield tester, int(cells.clinics[place[0]]), place


def _months_until(cells: CellTable, place: np.ndarray[Any, Any], until: date) -> list[date]:
    return sorted({cells.months[at] for at in place if cells.months[at] <= until})


def _digit_figures(
    cells: CellTable,
    place: np.ndarray[Any, Any],
    peaks: np.ndarray[Any, Any],
    events: np.ndarray[Any, Any],
    month: date,
    chance: float,
) -> dict[str, Any] | None:
    """The figures of a marked month, else None."""
    window = {month_back(month, steps) for steps in range(DIGIT_MONTHS)}
    inside = [at for at in place if cells.months[at] in window]
    n, s = float(peaks[inside].sum()), float(events[inside].sum())
    if n < DIGIT_PEAKS or s / n < chance + DIGIT_EXCESS:
        return None
    if float(binom.sf(s - 1, n, chance)) > DIGIT_CHANCE:
        return None
    others = _colleagues(cells, place, window)
    rest = peaks[others].sum()
    usual = float(events[others].sum() / rest) if rest else chance
    # A device that shows half degrees makes half of everybody's peaks whole.
    if s / n < 2.0 * usual:
        return None
    return {
        "visits": int(cells.visits[inside].sum()),
        "peaks": n,
        "value": s / n,
        "expected": chance,
        "colleagues": usual if rest else None,
        "window_months": DIGIT_MONTHS,
    }


def _colleagues(cells: CellTable, place: np.ndarray[Any, Any], window: set[date]) -> list[int]:
    """Cells of the others on the same recorders in these months."""
    theirs = {(int(cells.clinics[at]), cells.recorders[at]) for at in place}
    own = set(place.tolist())
    return [
        at
        for at, recorder in enumerate(cells.recorders)
        if at not in own
        and (int(cells.clinics[at]), recorder) in theirs
        and cells.months[at] in window
    ]


@dataclass(frozen=True, slots=True)
class Backwards:
    """A visit with three or more counted responses that beat backwards."""

    clinic_id: int
    clinic: UUID
    tester: UUID
    day: date


def exchanged_found(visits: Sequence[Backwards], *, until: date) -> list[Found]:
    """Labels exchanged: by one tester, or where several of a clinic do it, at the clinic."""
    found = []
    for clinic_id in sorted({one.clinic_id for one in visits}):
        of_clinic = [one for one in visits if one.clinic_id == clinic_id]
        for spell in spells(_close_together(of_clinic), until=until):
            there = [
                one
                for one in of_clinic
                if spell.opened <= one.day.replace(day=1) <= spell.last
                or month_back(spell.opened, 1) == one.day.replace(day=1)
            ]
            found += _of_spell(there, clinic_id, spell, until)
    return found


def _of_spell(there: list[Backwards], clinic_id: int, spell: Spell, until: date) -> list[Found]:
    testers = {one.tester for one in there}
    evidence: dict[str, Any] = {"visits": len(there), "testers": len(testers), "expected": 0}
    if len(testers) > 1:
        return [_by_rule(clinic_id, "clinic", there[0].clinic, "labels_exchanged", spell, evidence)]
    return [_by_rule(clinic_id, "tester", there[0].tester, "labels_exchanged", spell, evidence)]


def _close_together(visits: Sequence[Backwards]) -> set[date]:
    """Months in which a second such visit followed another within 30 days."""
    days = sorted(one.day for one in visits)
    near = timedelta(days=EXCHANGED_DAYS)
    return {later.replace(day=1) for earlier, later in pairwise(days) if later - earlier <= near}


def after_failed_found(cells: CellTable, *, until: date) -> list[Found]:
    """Irrigators used on although their last check was out of tolerance."""
    at = [one.id for one in catalogue().scored].index("after_failed_check")
    marked: dict[tuple[int, UUID], dict[date, float]] = {}
    for place in np.flatnonzero(cells.s[at] > 0).tolist():
        key = (int(cells.clinics[place]), cells.irrigators[place])
        months = marked.setdefault(key, {})
        month = cells.months[place]
        months[month] = months.get(month, 0.0) + float(cells.s[at, place])
    found = []
    for (clinic_id, irrigator), months in sorted(marked.items(), key=str):
        for spell in spells(months, until=until):
            tests = sum(n for month, n in months.items() if spell.opened <= month <= spell.last)
            evidence = {"visits": int(tests), "expected": 0}
            found.append(
                _by_rule(clinic_id, "irrigator", irrigator, "after_failed_check", spell, evidence)
            )
    return found


def _by_rule(
    clinic_id: int,
    kind: str,
    subject: UUID,
    measure: str,
    spell: Spell,
    evidence: dict[str, Any],
) -> Found:
    return Found(
        clinic_id=clinic_id,
        subject_kind=kind,
        subject_id=subject,
        measure=measure,
        channel="at_once",
        tier="please_review",
        direction="higher",
        opened=spell.opened,
        closed=spell.closed,
        since=spell.opened,
        last_beyond=spell.last,
        distance=None,
        evidence=evidence,
    )
