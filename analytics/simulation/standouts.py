"""Record faults planted in invented visits: which are found, and how many sound visits are marked.

Patients: mean 3.08 and SD 0.42 on the log scale; half warm-cool difference 0.17 +- 0.14; a
quarter with one ear's gain 0 to 0.8; 2.5 % low on both sides (orders of magnitude after Hannigan
et al., J Neurol 2024;271, and an open series of 800 tests); retest noise 0.17 and 0.6 deg/s
(derived from Proctor et al., Ann Otol Rhinol Laryngol 1986;95:83-90).
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Final

import numpy as np

from analytics.detection.standout import stand_out
from analytics.detection.standout_features import (
    RIGHT_BEATING,
    WARM,
    Codes,
    Flags,
    Floats,
    Visits,
)
from analytics.detection.standout_reference import Reference, fit_reference
from registry.caloric.formulas import HANDLING_NOT_REMOVED, HANDLING_UNKNOWN

_RIGHT: Final = np.array([1.0, 1.0, -1.0, -1.0])
_FIRST_STRONGER: Final = 0.15
FAULTS: Final = (
    "times_ten",
    "tenth",
    "sign_flipped",
    "two_exchanged",
    "ears_exchanged_at_one_temperature",
    "ears_exchanged_at_one_temperature_signed",
    "temperatures_exchanged_in_one_ear",
    "temperatures_exchanged_in_one_ear_signed",
    "response_copied",
    "response_copied_with_fixation",
)


@dataclass(frozen=True, slots=True)
class Drawn:
    """Invented visits, and which of them have one weak ear, or are low on both sides."""

    visits: Visits
    weak: Flags
    low: Flags


@dataclass(frozen=True, slots=True)
class StandOutStudy:
    """Share marked: by planted fault, and of sound visits with no weak ear, one, or both low."""

    found: dict[str, float]
    sound: float
    weak: float
    low: float
    all_sound: float
    distance_limit: float


def standout_study(seed: int = 0, visits: int = 20_000, faulty: float = 0.01) -> StandOutStudy:
    """Find planted faults with a reference fitted to visits of which a share holds faults too."""
    rng = np.random.default_rng(seed)
    past, clean = draw_visits(rng, visits), draw_visits(rng, visits)
    reference = fit_reference(_contaminated(rng, past.visits, faulty))
    marked = _marked(clean.visits, reference)
    some = _rows(clean.visits, np.arange(min(visits, 4_000)))
    return StandOutStudy(
        found={
            fault: float(_marked(with_fault(rng, some, fault), reference).mean())
            for fault in FAULTS
        },
        sound=float(marked[~clean.weak & ~clean.low].mean()),
        weak=float(marked[clean.weak].mean()),
        low=float(marked[clean.low].mean()),
        all_sound=float(marked.mean()),
        distance_limit=reference.distance_limit,
    )


def draw_visits(rng: np.random.Generator, count: int) -> Drawn:
    """Sound visits of patients, peaks to one decimal, one in ten with the nystagmus unknown."""
    weak, low = rng.random(count) < 0.25, rng.random(count) < 0.025
    speed = np.exp(_logarithms(rng, count)) * _gains(rng, weak, low)
    stronger = np.flatnonzero(rng.random(count) < _FIRST_STRONGER)
    first = rng.integers(0, 4, len(stronger))
    speed[stronger, first] *= rng.uniform(1.2, 1.6, len(stronger))
    nystagmus = np.where(rng.random(count) < 0.08, rng.normal(0.0, 4.0, count), 0.0)
    peaks = np.minimum(speed, 180.0) + rng.normal(0.0, 0.6, speed.shape)
    peaks = np.round(peaks + nystagmus[:, None] * RIGHT_BEATING, 1)
    share = np.clip(rng.normal(0.5, 0.12, (count, 1)) + rng.normal(0.0, 0.08, (count, 4)), 0, None)
    unknown = rng.random(count) < 0.1
    fixation = np.where(rng.random((count, 1)) < 0.7, np.round(peaks * share, 1), np.nan)
    return Drawn(
        Visits(
            peaks=peaks,
            spontaneous=np.where(unknown, np.nan, nystagmus),
            handling=np.where(unknown, HANDLING_UNKNOWN, HANDLING_NOT_REMOVED),
            medium=np.where(rng.random(count) < 0.5, "air", "water_open"),
            peak_basis=np.full(count, "mean_10s"),
            fixation=fixation,
            fixation_index=fixation.sum(axis=1)
            / np.where(peaks.sum(axis=1) > 8, peaks.sum(axis=1), np.nan),
        ),
        weak & ~low,
        low,
    )


def with_fault(rng: np.random.Generator, visits: Visits, fault: str) -> Visits:
    """Every visit with that fault in a cell, pair or ear drawn at random.

    Raises ``ValueError`` for a fault not in ``FAULTS``.
    """
    if fault not in FAULTS:
        raise ValueError(f"no such fault: {fault}")
    rows = np.arange(len(visits))
    cell = rng.integers(0, 4, len(visits))
    other = (cell + rng.integers(1, 4, len(visits))) % 4
    half = rng.integers(0, 2, len(visits))
    peaks, fixation = visits.peaks.copy(), visits.fixation.copy()
    factor = {"times_ten": 10.0, "tenth": 0.1, "sign_flipped": -1.0}.get(fault)
    if factor is not None:
        peaks[rows, cell] = np.round(peaks[rows, cell] * factor, 1)
    elif fault.startswith("response_copied"):
        peaks[rows, other] = peaks[rows, cell]
        if fault.endswith("fixation"):
            fixation[rows, other] = fixation[rows, cell]
    else:
        if fault.startswith("ears"):
            cell, other = half, half + 2
        elif fault.startswith("temperatures"):
            cell, other = 2 * half, 2 * half + 1
        sign = -1.0 if fault.endswith("signed") else 1.0
        peaks[rows, cell], peaks[rows, other] = (
            sign * visits.peaks[rows, other],
            sign * visits.peaks[rows, cell],
        )
    return _replaced(visits, peaks, fixation)


def _logarithms(rng: np.random.Generator, count: int) -> Floats:
    def each(middle: float, spread: float) -> Floats:
        return np.asarray(rng.normal(middle, spread, (count, 1)))

    return np.asarray(
        each(3.08, 0.40)
        + each(0.17, 0.12) * WARM
        + each(0.0, 0.07) * _RIGHT
        + each(0.0, 0.05) * RIGHT_BEATING
        + rng.normal(0.0, 0.17, (count, 4))
    )


def _gains(rng: np.random.Generator, weak: Flags, low: Flags) -> Floats:
    gains = np.ones((len(weak), 2))
    side = rng.integers(0, 2, len(weak))
    gains[weak, side[weak]] = rng.uniform(0.0, 0.8, int(weak.sum()))
    gains[low] *= rng.uniform(0.0, 0.3, (int(low.sum()), 1))
    return np.asarray(gains[:, [0, 0, 1, 1]])


def _contaminated(rng: np.random.Generator, visits: Visits, share: float) -> Visits:
    peaks, fixation = visits.peaks.copy(), visits.fixation.copy()
    which = np.where(rng.random(len(visits)) < share, rng.integers(0, len(FAULTS), len(visits)), -1)
    for number, fault in enumerate(FAULTS):
        rows = np.flatnonzero(which == number)
        changed = with_fault(rng, _rows(visits, rows), fault)
        peaks[rows], fixation[rows] = changed.peaks, changed.fixation
    return _replaced(visits, peaks, fixation)


def _marked(visits: Visits, reference: Reference) -> Flags:
    return np.array([one.stands_out for one in stand_out(visits, reference)], np.bool_)


def _rows(visits: Visits, rows: Codes) -> Visits:
    return Visits(**{field.name: getattr(visits, field.name)[rows] for field in fields(Visits)})


def _replaced(visits: Visits, peaks: Floats, fixation: Floats) -> Visits:
    return replace(visits, peaks=peaks, fixation=fixation)
