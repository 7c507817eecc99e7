"""All that a network's figures are made from, read once in the scope that is open."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Final
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from analytics.builds.build import last_complete_month
from analytics.dashboards.limits import Year, years_of
from analytics.dashboards.sums import sums_of, visits_by_month
from analytics.detection.tallies import Tallies, by_clinic
from analytics.models import Build, RetestPair, Signal, SubjectSummary
from analytics.rollups.merge import CellTable, read_cells
from analytics.statistics.proportions import Band
from analytics.summaries.codes import codes_of
from registry.models import Clinic, EquipmentEvent, Irrigator, Network, Recorder, Tester

Floats = NDArray[np.float64]

# Charts over time show two years; a page of more would be read by nobody.
SHOWN_MONTHS: Final = 24
MONTH_LEVEL: Final = 0.998


@dataclass(frozen=True, slots=True, eq=False)
class Subjects:
    """The monthly sums of one kind of subject, its visits by month, and limits by measure."""

    kind: str
    tallies: Tallies
    visits: Floats
    years: dict[str, Year]
    place: dict[Hashable, int]
    _bands: dict[str, Band] = field(default_factory=dict)

    @property
    def months(self) -> tuple[date, ...]:
        """The months shown, oldest first."""
        return self.tallies.months[-SHOWN_MONTHS:]

    def limits(self, measure: str) -> Band:
        """99.8 % limits of every subject's months shown, (subjects, months); made once."""
        if measure not in self._bands:
            at = self.tallies.measures.index(measure)
            n = self.tallies.n[at, :, -SHOWN_MONTHS:]
            self._bands[measure] = self.years[measure].at(n, MONTH_LEVEL)
        return self._bands[measure]


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """One network as it is now, up to the end of ``until``."""

    clinics: dict[int, Clinic]
    until: date
    build: Build | None
    cells: CellTable
    testers: Subjects
    irrigators: Subjects
    of_clinics: Subjects
    combined: Tallies
    summaries: dict[tuple[str, UUID], SubjectSummary]
    tester_codes: dict[UUID, str]
    irrigator_codes: dict[UUID, str]
    recorder_codes: dict[UUID, str]
    events: dict[UUID, list[tuple[date, str]]]
    to_review: list[str]

    @property
    def clinic_ids(self) -> list[int]:
        return list(self.clinics)

    def compared(self, kind: str, subject: UUID) -> dict[str, Any]:
        """How the last build found a subject, by measure."""
        row = self.summaries.get((kind, subject))
        return row.compared if row else {}


def read_source(network: Network, *, at: datetime) -> Source:
    """Cells, summaries, codes and the last build of a network with at least one clinic."""
    clinics = {one.pk: one for one in Clinic.objects.filter(network=network).order_by("id")}
    ids = list(clinics)
    build = Build.objects.filter(network=network).order_by("-id").first()
    until = build.covers_until if build else _last_month(clinics, at)
    cells = read_cells(ids)
    parameters = build.parameters if build else {}
    sums = sums_of(cells, until=until)
    testers = _subjects("tester", sums.testers, cells, parameters)
    return Source(
        clinics=clinics,
        until=until,
        build=build,
        cells=cells,
        testers=testers,
        irrigators=_subjects("irrigator", sums.irrigators, cells, parameters),
        of_clinics=_subjects("clinic", by_clinic(testers.tallies), cells, parameters),
        combined=sums.combined,
        summaries={
            (row.subject_kind, row.subject_id): row
            for row in SubjectSummary.objects.filter(clinic_id__in=ids)
        },
        tester_codes=codes_of(Tester, ids),
        irrigator_codes=codes_of(Irrigator, ids),
        recorder_codes=codes_of(Recorder, ids),
        events=_events(ids),
        to_review=_to_review(ids, at),
    )


def read_pairs(clinic_ids: Sequence[int]) -> list[RetestPair]:
    """Comparable pairs of tests of one person, both with a weakness, in order of time."""
    rows = RetestPair.objects.filter(
        clinic_id__in=clinic_ids,
        comparable=True,
        weakness__isnull=False,
        earlier_weakness__isnull=False,
    )
    return list(rows.order_by("month", "clinic_id", "visit_id"))


def _subjects(
    kind: str, tallies: Tallies, cells: CellTable, parameters: dict[str, Any]
) -> Subjects:
    ids: dict[str, Sequence[Hashable]] = {
        "tester": cells.testers,
        "irrigator": cells.irrigators,
        "clinic": cells.clinics.tolist(),
    }
    visits = visits_by_month(cells, ids[kind], tallies)
    return Subjects(
        kind=kind,
        tallies=tallies,
        visits=visits,
        years=years_of(kind, tallies, visits, parameters.get(kind)),
        place={one: at for at, one in enumerate(tallies.testers)},
    )


def _last_month(clinics: dict[int, Clinic], at: datetime) -> date:
    return last_complete_month(min(one.local_date(at) for one in clinics.values()))


def _events(clinic_ids: Sequence[int]) -> dict[UUID, list[tuple[date, str]]]:
    rows = EquipmentEvent.objects.filter(clinic_id__in=clinic_ids, irrigator_id__isnull=False)
    found: dict[UUID, list[tuple[date, str]]] = {}
    for irrigator, moment, kind in rows.order_by("happened_at", "id").values_list(
        "irrigator_id", "happened_at", "kind"
    ):
        if irrigator is not None:
            found.setdefault(irrigator, []).append((moment.date(), kind))
    return found


def _to_review(clinic_ids: Sequence[int], at: datetime) -> list[str]:
    """The measure of each signal that leads may see and that waits for a review."""
    rows = Signal.objects.filter(
        clinic_id__in=clinic_ids, tier="please_review", state="to_review", leads_from__lte=at
    )
    return list(rows.order_by("measure", "id").values_list("measure", flat=True))
