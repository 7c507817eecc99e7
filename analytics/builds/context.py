"""What else moved when a tester's figures did: patients, irrigators, the clinic; figures only.

Shown in this order, before anybody thinks of the tester: data quality, the patients' mix, the
irrigator and recorder, the clinic.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from uuid import UUID

from analytics.detection.evaluation import Episode, Evaluation
from analytics.measures import Catalogue
from analytics.rollups.merge import CellTable, month_back

# A share of a tester's visits from which an irrigator's own change may be behind theirs.
MOSTLY = 0.5


@dataclass(slots=True)
class Contexts:
    """Looks a subject's cells up quickly; made once a build."""

    cells: CellTable
    catalogue: Catalogue
    irrigators: Evaluation
    clinics: Evaluation
    _rows: dict[str, list[int]] = field(init=False)

    def __post_init__(self) -> None:
        self._rows = {}
        for at, tester in enumerate(self.cells.testers):
            self._rows.setdefault(str(tester), []).append(at)

    def of_tester(self, episode: Episode, clinic_id: int) -> dict[str, Any]:
        """The context of a tester's episode over its window of months."""
        last = episode.opened
        window = {month_back(last, steps) for steps in range(episode.window)}
        rows = [
            at for at in self._rows.get(str(episode.subject), []) if self.cells.months[at] in window
        ]
        return {
            "patients": self._patients(episode, rows),
            "irrigators": self._devices(self.cells.irrigators, rows, episode),
            "recorders": self._shares(self.cells.recorders, rows),
            "clinic_moved": _moved(self.clinics, episode, clinic_id),
        }

    def _patients(self, episode: Episode, rows: Sequence[int]) -> dict[str, float | None]:
        """What the mix of patients adds to the value: now, and over all of this tester's months."""
        at = [one.id for one in self.catalogue.scored].index(episode.measure)
        every = self._rows.get(str(episode.subject), [])
        return {"now": self._added(at, rows), "usually": self._added(at, every)}

    def _added(self, measure: int, rows: Sequence[int]) -> float | None:
        n = float(sum(self.cells.n[measure, at] for at in rows))
        return float(sum(self.cells.expected[measure, at] for at in rows)) / n if n else None

    def _shares(self, ids: Sequence[UUID | None], rows: Sequence[int]) -> list[dict[str, Any]]:
        visits: Counter[UUID] = Counter()
        for at in rows:
            one = ids[at]
            if one is not None:
                visits[one] += int(self.cells.visits[at])
        total = sum(int(self.cells.visits[at]) for at in rows)
        return [
            {"id": str(one), "share": count / total}
            for one, count in sorted(visits.items(), key=lambda two: (-two[1], str(two[0])))
        ]

    def _devices(
        self, ids: Sequence[UUID], rows: Sequence[int], episode: Episode
    ) -> list[dict[str, Any]]:
        shares = self._shares(ids, rows)
        return [
            one | {"moved": _moved(self.irrigators, episode, UUID(one["id"]))} for one in shares
        ]


def _moved(others: Evaluation, episode: Episode, subject: object) -> bool:
    """Whether this irrigator or clinic has an episode of the same measure at that time."""
    return any(
        one.measure == episode.measure
        and one.subject == subject
        and one.opened <= episode.opened
        and (one.closed is None or one.closed >= episode.since)
        for one in others.episodes
    )


def last_beyond(episode: Episode, *, until: date, beyond_now: bool) -> date:
    """The last month in which it was beyond: two before the closing, or the last one or so."""
    last = until.replace(day=1)
    if episode.closed is not None:
        found = month_back(episode.closed, 2)
    else:
        found = last if beyond_now else month_back(last, 1)
    return max(found, episode.opened)
