"""Visits made ready for a case-mix model: complete rows, columns that say something, groupings.

``notes`` on what was left out: ``no_spread:<covariate>`` and ``repeats_others:<covariate>``;
``few_clinics``, ``one_tester_in_each_clinic`` and ``few_testers_share_a_clinic``;
``few_irrigators`` and ``irrigators_not_crossed`` (each tester keeps to its own).
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import sparse

Floats = NDArray[np.float64]
Codes = NDArray[np.int64]

# A spread between fewer units cannot be told from their values (common practice, no source).
LEAST_LEVELS: Final = 5


@dataclass(frozen=True, slots=True)
class Visits:
    """n visits: an outcome each (0 and 1 for shares), who tested, and what describes the patient.

    ``covariates`` are columns of length n by name, ``clinics`` and ``irrigators`` labels of
    length n. A visit with a missing outcome or covariate (NaN) is left out and counted.
    """

    outcome: ArrayLike
    testers: ArrayLike
    covariates: Mapping[str, ArrayLike] = field(default_factory=dict)
    clinics: ArrayLike | None = None
    irrigators: ArrayLike | None = None


@dataclass(frozen=True, slots=True)
class Grouping:
    """Labels in order, and the number of each visit's own."""

    labels: Sequence[Hashable]
    codes: Codes


@dataclass(frozen=True, slots=True)
class Table:
    """Complete visits with numbered labels; covariates are centred and of SD 1."""

    outcome: Floats
    columns: Floats
    names: tuple[str, ...]
    scales: Floats
    groupings: dict[str, Grouping]
    incomplete: int
    notes: tuple[str, ...]


def prepare(visits: Visits) -> Table:
    """Complete visits as a table; ``ValueError`` where lengths differ."""
    outcome = np.asarray(visits.outcome, np.float64).ravel()
    named = {name: np.asarray(each, np.float64) for name, each in visits.covariates.items()}
    labels = {"tester": visits.testers, "clinic": visits.clinics, "irrigator": visits.irrigators}
    given = {name: np.asarray(each) for name, each in labels.items() if each is not None}
    for name, column in {**named, **given}.items():
        if column.shape != outcome.shape:
            raise ValueError(f"{name} has shape {column.shape}, the outcome {outcome.shape}")
    complete = np.isfinite(outcome)
    for column in named.values():
        complete = complete & np.isfinite(column)
    kept = {name: column[complete] for name, column in named.items()}
    columns, names, scales, notes = _independent(kept, int(complete.sum()))
    groupings = {name: _number(column[complete]) for name, column in given.items()}
    incomplete = int((~complete).sum())
    return Table(outcome[complete], columns, names, scales, groupings, incomplete, notes)


def _number(labels: NDArray[Any]) -> Grouping:
    levels, codes = np.unique(labels, return_inverse=True)
    return Grouping(levels.tolist(), codes.astype(np.int64))


def _independent(
    named: Mapping[str, Floats], n: int
) -> tuple[Floats, tuple[str, ...], Floats, tuple[str, ...]]:
    """Standardised columns, without those that do not vary or that the earlier ones give."""
    kept: list[Floats] = []
    names, scales, notes = [], [], []
    for name, column in named.items():
        sd = float(column.std()) if n else 0.0
        if not sd > 1e-12 * float(np.abs(column).max(initial=0.0)):
            notes.append(f"no_spread:{name}")
            continue
        standard = (column - column.mean()) / sd
        if kept:
            before = np.column_stack(kept)
            left = standard - before @ np.linalg.lstsq(before, standard, rcond=None)[0]
            if float(left.std()) < 1e-6:
                notes.append(f"repeats_others:{name}")
                continue
        kept.append(standard)
        names.append(name)
        scales.append(sd)
    columns = np.column_stack(kept) if kept else np.empty((n, 0))
    return columns, tuple(names), np.array(scales), tuple(notes)


def separable(table: Table) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Groupings whose effects the visits can tell from the testers', and all notes."""
    testers = table.groupings["tester"]
    clinics, irrigators = table.groupings.get("clinic"), table.groupings.get("irrigator")
    against_clinics = _against_clinics(testers, clinics) if clinics else "absent"
    against_irrigators = _against_irrigators(testers, irrigators) if irrigators else "absent"
    used = ["tester"]
    used += ["clinic"] if against_clinics is None else []
    used += ["irrigator"] if against_irrigators is None else []
    found = (note for note in (against_clinics, against_irrigators) if note not in (None, "absent"))
    return tuple(used), (*table.notes, *(str(note) for note in found))


def _against_clinics(testers: Grouping, clinics: Grouping) -> str | None:
    if len(clinics.labels) < LEAST_LEVELS:
        return "few_clinics"
    _, parts = _links(testers, clinics)
    beyond_one = len(testers.labels) - parts
    if beyond_one == 0:
        return "one_tester_in_each_clinic"
    return "few_testers_share_a_clinic" if beyond_one < LEAST_LEVELS else None


def _against_irrigators(testers: Grouping, irrigators: Grouping) -> str | None:
    if len(irrigators.labels) < LEAST_LEVELS:
        return "few_irrigators"
    pairs, parts = _links(testers, irrigators)
    # Pairs beyond those a forest needs are what tells two crossed groupings apart.
    loops = pairs - len(testers.labels) - len(irrigators.labels) + parts
    return "irrigators_not_crossed" if loops < LEAST_LEVELS else None


def _links(one: Grouping, other: Grouping) -> tuple[int, int]:
    """How many pairs of labels occur, and into how many unconnected parts they fall."""
    a, b = len(one.labels), len(other.labels)
    pairs = np.unique(np.column_stack([one.codes, a + other.codes]), axis=0)
    links = sparse.coo_array(
        (np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(a + b, a + b)
    )
    parts, _ = sparse.csgraph.connected_components(links, directed=False)
    return len(pairs), int(parts)
