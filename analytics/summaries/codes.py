"""The clinics' own codes for ids, looked up once for a whole page or summary."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from uuid import UUID

from registry.models import Clinic, Irrigator, Recorder, Tester

Codes = dict[UUID, str]
Coded = type[Tester] | type[Irrigator] | type[Recorder]


def codes_of(model: Coded, clinic_ids: Collection[int], ids: Iterable[UUID] | None = None) -> Codes:
    """Codes by id: of these ids, or of all that the clinics have; no query for no ids."""
    rows = model.objects.filter(clinic_id__in=clinic_ids)
    if ids is not None:
        rows = rows.filter(id__in=set(ids))
    return dict(rows.values_list("id", "code"))


def clinic_codes(clinic_ids: Iterable[int]) -> dict[int, str]:
    """Codes of clinics by their number."""
    return dict(Clinic.objects.filter(id__in=set(clinic_ids)).values_list("id", "code"))
