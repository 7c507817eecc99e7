"""Which references were erased: known by their keyed digests only."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from registry.access.digests import all_digests
from registry.caloric.visit import Visit
from registry.models import Tombstone

Erased = Literal["visit_erased", "subject_erased"]


def tombstone_purpose(kind: str, clinic_id: int) -> str:
    """One clinic's digest says nothing about the same code at another."""
    return f"erased {kind} of clinic {clinic_id}"


def refs_erased(clinic_id: int, visits: Sequence[Visit]) -> dict[str, Erased]:
    """Visit references that may not come back, because they or their subject were erased."""
    if not Tombstone.objects.filter(clinic_id=clinic_id).exists():
        return {}
    by_digest: dict[bytes, list[tuple[str, Erased]]] = {}
    for visit in visits:
        for kind, ref, code in (
            ("subject", visit.subject_ref, "subject_erased"),
            ("visit", visit.visit_ref, "visit_erased"),
        ):
            for digest in all_digests(tombstone_purpose(kind, clinic_id), ref):
                by_digest.setdefault(digest, []).append((visit.visit_ref, code))  # type: ignore[arg-type]
    found = Tombstone.objects.filter(clinic_id=clinic_id, digest__in=list(by_digest))
    return {
        visit_ref: code
        for digest in found.values_list("digest", flat=True)
        for visit_ref, code in by_digest[bytes(digest)]
    }
