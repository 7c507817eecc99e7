"""The figures of one subject for those who may read them, and whether they are current."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final
from uuid import UUID

from analytics.models import Build, SubjectSummary
from registry.access.requests import Access
from registry.models import ChangedKey, Clinic, Irrigator, Tester

# A comparison needs so many clinics besides the reader's own: with fewer, what is left after
# one's own figures are taken off would be some other clinic's.
OTHER_CLINICS: Final = 3


class SummaryNotFound(Exception):
    """There is no such subject, or none whose figures this reader may see."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """One subject with its figures; ``row`` is None before anything was summed.

    ``stale``: its data moved after the figures were made, or changes of its clinic still wait.
    ``comparable`` holds the measures that this reader may see compared; None stands for all.
    ``outside``: the reader is not of the subject's clinic, so that small numbers are not shown.
    """

    kind: str
    id: UUID
    code: str
    clinic: Clinic
    row: SubjectSummary | None
    stale: bool
    comparable: frozenset[str] | None
    outside: bool


def summary_get(access: Access, kind: str, subject_id: UUID) -> Summary:
    """The figures of a tester, irrigator or clinic.

    A tester reads the own ones alone, a site lead those of the own clinic, a lead the network's.

    :raises SummaryNotFound: if there is no such subject within this reader's reach.
    """
    if access.role == "tester" and (kind, subject_id) != ("tester", access.membership.tester_id):
        raise SummaryNotFound
    code, clinic = _subject(access, kind, subject_id)
    rows = SubjectSummary.objects.filter(
        clinic_id=clinic.pk, subject_kind=kind, subject_id=subject_id
    )
    row = rows.order_by("subject_id").first()
    return Summary(
        kind=kind,
        id=subject_id,
        code=code,
        clinic=clinic,
        row=row,
        stale=_has_moved(row) or ChangedKey.objects.filter(clinic_id=clinic.pk).exists(),
        comparable=None if access.role == "lead" else _comparable(row),
        outside=access.clinic is None,
    )


def _subject(access: Access, kind: str, subject_id: UUID) -> tuple[str, Clinic]:
    if kind == "clinic":
        clinics = Clinic.objects.filter(id__in=access.clinic_ids, public_id=subject_id)
        clinic = clinics.order_by("id").first()
        if clinic is not None:
            return clinic.code, clinic
        raise SummaryNotFound
    model = Tester if kind == "tester" else Irrigator
    rows = model.objects.filter(clinic_id__in=access.clinic_ids, id=subject_id)
    row = rows.select_related("clinic").order_by("id").first()
    if row is None:
        raise SummaryNotFound
    return row.code, row.clinic


def _has_moved(row: SubjectSummary | None) -> bool:
    if row is None or row.moved_at is None:
        return False
    return row.built_at is None or row.moved_at > row.built_at


def _comparable(row: SubjectSummary | None) -> frozenset[str]:
    """The measures for which enough clinics besides the subject's own have visits."""
    if row is None or row.build_id is None:
        return frozenset()
    counts = Build.objects.filter(id=row.build_id).values_list(
        "parameters__clinics_by_measure", flat=True
    )
    by_measure = next(iter(counts), None) or {}
    return frozenset(
        measure for measure, clinics in by_measure.items() if clinics - 1 >= OTHER_CLINICS
    )
