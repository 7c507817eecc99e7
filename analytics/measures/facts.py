"""What the measures read of many visits: one column a fact, one value a visit."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Columns of equal length in the order of the visits; NaN is "not known", never 0.

    Peaks and totals in deg/s, positive in the expected direction; percentages signed as the
    registry signs them (weakness: positive is left lower; preponderance and gain asymmetry:
    positive is right-beating). Yes and no are 1 and 0. A visit that has no such thing to count
    (no beats, no rest) holds 0 in the count of occasions.
    """

    # The four counted responses and what the registry computed from them.
    right_warm: Floats
    right_cool: Floats
    left_warm: Floats
    left_cool: Floats
    right_total: Floats
    left_total: Floats
    warm_total: Floats
    cool_total: Floats
    total_spv: Floats
    unilateral_weakness_percent: Floats
    directional_preponderance_percent: Floats
    gain_asymmetry_percent: Floats
    fixation_index_overall: Floats
    # Criteria met (1), not met (0), undetermined (NaN).
    weakness_met: Floats
    preponderance_met: Floats
    low_total_met: Floats
    inverted: Floats
    negative_peaks: Floats
    # How the test went: was a bithermal test planned, was it left incomplete.
    bithermal: Floats
    incomplete: Floats
    irrigations: Floats
    repeats: Floats
    repeats_avoidable: Floats
    repeats_indicated: Floats
    repeats_without_reason: Floats
    # ln(first response / what the other three make expect), NaN where order or a cell is unknown.
    first_excess: Floats
    fixation_recorded: Floats
    rests: Floats
    rests_kept: Floats
    durations: Floats
    durations_kept: Floats
    # Printed figures compared, peaks compared with their beats.
    reported: Floats
    reported_differs: Floats
    beat_peaks: Floats
    beat_peaks_differ: Floats
    # Of the peaks of 5 deg/s and more: how many are whole numbers, how many multiples of five.
    digit_peaks: Floats
    digit_whole: Floats
    digit_five: Floats
    upload_days: Floats
    # Was there a current temperature check; was the last one before it out of tolerance.
    check_current: Floats
    after_failed: Floats
    # What differs between patients and between habits, for comparing like with like.
    age_years: Floats
    female: Floats
    first_ear_right: Floats

    def __len__(self) -> int:
        return len(self.total_spv)

    def take(self, which: NDArray[Any]) -> Facts:
        """The visits of these positions (or of this mask), in that order."""
        return Facts(**{name: getattr(self, name)[which] for name in COLUMNS})

    @staticmethod
    def empty(length: int) -> dict[str, Floats]:
        """Columns of ``length`` with nothing known, to be filled and made into ``Facts``."""
        return {name: np.full(length, np.nan) for name in COLUMNS}


COLUMNS = tuple(field.name for field in fields(Facts))
