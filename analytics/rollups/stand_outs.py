"""Visits whose record deserves a second look, found again for the months that changed."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from analytics.detection.standout import Reason, stand_out
from analytics.detection.standout import StandOut as Seen
from analytics.detection.standout_features import CELLS, Visits
from analytics.detection.standout_reference import Reference, fit_reference
from analytics.models import PatientMix, StandOut
from analytics.rollups.facts import FactRows, TesterMonth
from registry.intake.store import insert_rows
from registry.models import Clinic

# The reference is a matter of medians: so many visits of a large network tell as much as all.
MOST_FOR_REFERENCE: Final = 100_000
_EQUAL_FIGURES: Final = ("same_peak_and_fixation", "three_equal_peaks")


def stand_outs_replace(clinic: Clinic, keys: Sequence[TesterMonth], rows: FactRows) -> None:
    """Look at these visits anew, beside what is usual in the network."""
    for tester_id in {tester for tester, _ in keys}:
        months = [month for tester, month in keys if tester == tester_id]
        StandOut.objects.filter(clinic_id=clinic.pk, tester_id=tester_id, month__in=months).delete()
    version, reference = reference_latest(clinic.network_id)
    whole = np.flatnonzero(np.array(rows.sole, dtype=np.bool_))
    seen = stand_out(visits_of(rows, whole), reference) if len(whole) else []
    judged = [
        (int(at), one, _reasons(rows, int(at), one)) for at, one in zip(whole, seen, strict=True)
    ]
    found = [
        _row(clinic.pk, rows, at, one, reasons, version) for at, one, reasons in judged if reasons
    ]
    # A visit that changed hands stood among the other tester's until now.
    StandOut.objects.filter(
        clinic_id=clinic.pk, visit_id__in=[row["visit_id"] for row in found]
    ).delete()
    insert_rows(StandOut, found)


def _reasons(rows: FactRows, at: int, one: Seen) -> list[Reason]:
    """The reasons, without equal figures where only whole numbers are kept: there they repeat."""
    peaks = [float(getattr(rows.facts, cell)[at]) for cell in CELLS]
    tenths = any(np.isfinite(peak) and peak != round(peak) for peak in peaks)
    return [reason for reason in one.reasons if tenths or reason.code not in _EQUAL_FIGURES]


def _row(
    clinic_id: int, rows: FactRows, at: int, one: Seen, reasons: Sequence[Reason], version: int
) -> dict[str, Any]:
    return {
        "clinic_id": clinic_id,
        "visit_id": rows.visit_ids[at],
        "tester_id": rows.tester_ids[at],
        "month": rows.months[at],
        "visit_date": rows.visit_dates[at],
        "distance": one.distance,
        "reason_codes": [reason.code for reason in reasons],
        "reasons": json.dumps([asdict(reason) for reason in reasons]),
        "negative_peaks": one.negative_peaks,
        "reference_version": version,
    }


def reference_latest(network_id: int) -> tuple[int, Reference]:
    """The network's newest reference and its version; before the first fit it knows nothing."""
    row = PatientMix.objects.filter(network_id=network_id).order_by("-version").first()
    if row is None or not row.reference:
        return 0, UsualVisits().fitted()
    return row.version, Reference.from_json(row.reference)


def visits_of(rows: FactRows, which: NDArray[np.int64]) -> Visits:
    """These rows' four responses and what came with them."""
    facts, more = rows.facts.take(which), {name: one[which] for name, one in rows.more.items()}
    strata = [rows.strata[at].split("/") for at in which.tolist()]
    return Visits(
        peaks=np.stack([getattr(facts, cell) for cell in CELLS], axis=1),
        spontaneous=more["spontaneous_spv"],
        handling=np.nan_to_num(more["spontaneous_handling"]).astype(np.int64),
        medium=np.array([medium for medium, _ in strata], dtype=np.str_),
        peak_basis=np.array([basis for _, basis in strata], dtype=np.str_),
        fixation=np.stack([more[f"{cell}_fixation"] for cell in CELLS], axis=1),
        fixation_index=facts.fixation_index_overall,
    )


class UsualVisits:
    """Visits of a network gathered, clinic by clinic, until they tell what is usual."""

    def __init__(self) -> None:
        self._parts: list[Visits] = []
        self._count = 0

    def add(self, rows: FactRows) -> None:
        room = MOST_FOR_REFERENCE - self._count
        whole = np.flatnonzero(np.array(rows.sole, dtype=np.bool_))[: max(room, 0)]
        if len(whole):
            self._parts.append(visits_of(rows, whole))
            self._count += len(whole)

    def fitted(self) -> Reference:
        return fit_reference(_joined(self._parts))

    def reference(self) -> dict[str, Any]:
        """As plain numbers, to be kept."""
        return self.fitted().to_json()


def _joined(parts: Sequence[Visits]) -> Visits:
    empty = np.empty(0)
    if not parts:
        none: NDArray[np.str_] = np.empty(0, dtype=np.str_)
        return Visits(
            peaks=np.empty((0, len(CELLS))),
            spontaneous=empty,
            handling=np.empty(0, dtype=np.int64),
            medium=none,
            peak_basis=none,
            fixation=np.empty((0, len(CELLS))),
            fixation_index=empty,
        )
    names = ("peaks", "spontaneous", "handling", "medium", "peak_basis", "fixation")
    columns = {
        name: np.concatenate([getattr(part, name) for part in parts])
        for name in (*names, "fixation_index")
    }
    return Visits(**columns)
