"""Stored visits as plain values again, many at a time: three queries however many they are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar
from uuid import UUID

from registry.caloric.visit import Visit
from registry.intake.rows import CodeNames, visit_from_rows
from registry.models import (
    Irrigation,
    Irrigator,
    Recorder,
    ResponseBeats,
    Subject,
    Tester,
)
from registry.models import Visit as VisitRow

RowT = TypeVar("RowT", Irrigation, ResponseBeats)


@dataclass(frozen=True, slots=True)
class StoredVisit:
    """A visit's row, its irrigations' rows in order, and the visit they make."""

    row: VisitRow
    irrigations: list[Irrigation]
    visit: Visit

    @property
    def tester_ids(self) -> set[UUID]:
        """Whoever irrigated in this visit."""
        own = {one.tester_id for one in self.irrigations if one.tester_id}
        return {self.row.tester_id, *own}

    @property
    def irrigator_ids(self) -> dict[str, UUID]:
        """The irrigators of this visit by code, as they were when it was stored.

        Today's directory may say otherwise: days in service are corrected, labels used again.
        """
        ids = {self.visit.irrigator: self.row.irrigator_id}
        for row, one in zip(self.irrigations, self.visit.irrigations, strict=True):
            if one.irrigator and row.irrigator_id:
                ids[one.irrigator] = row.irrigator_id
        return ids


def stored_visits(rows: Sequence[VisitRow]) -> list[StoredVisit]:
    """The visits of these rows, in their order; rows may belong to several clinics."""
    irrigations = _by_visit(Irrigation, rows)
    beats = _by_visit(ResponseBeats, rows)
    names = code_names(rows)
    return [
        StoredVisit(row, irrigations[row.id], _visit(row, irrigations, beats, names))
        for row in rows
    ]


def _visit(
    row: VisitRow,
    irrigations: dict[UUID, list[Irrigation]],
    beats: dict[UUID, list[ResponseBeats]],
    names: CodeNames,
) -> Visit:
    of_cell = {(one.ear, one.stimulus, one.attempt): one for one in beats[row.id]}
    return visit_from_rows(row, irrigations[row.id], of_cell, names)


def _by_visit(model: type[RowT], rows: Sequence[VisitRow]) -> dict[UUID, list[RowT]]:
    found: dict[UUID, list[RowT]] = defaultdict(list)
    if rows:
        children = model._default_manager.filter(
            clinic_id__in={row.clinic_id for row in rows}, visit_id__in=[row.id for row in rows]
        )
        for one in children:
            found[one.visit_id].append(one)
    for of_one_visit in found.values():
        of_one_visit.sort(key=lambda one: getattr(one, "position_in_visit", 0))
    return found


def code_names(rows: Sequence[VisitRow]) -> CodeNames:
    """Codes by id for everything that these visits name."""
    clinics = {row.clinic_id for row in rows}
    return CodeNames(
        subject=dict(
            Subject.objects.filter(
                clinic_id__in=clinics, id__in={row.subject_id for row in rows}
            ).values_list("id", "ref")
        ),
        tester=dict(Tester.objects.filter(clinic_id__in=clinics).values_list("id", "code")),
        irrigator=dict(Irrigator.objects.filter(clinic_id__in=clinics).values_list("id", "code")),
        recorder=dict(Recorder.objects.filter(clinic_id__in=clinics).values_list("id", "code")),
    )
