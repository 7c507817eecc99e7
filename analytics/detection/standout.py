"""Visits whose record stands out: please check the record.

A reason to look at how the visit was written down, never a verdict on it and never a ground to
leave it out. A weak ear or weak responses alone give no reason. What cannot be seen: two
exchanged responses of about the same size, and ears exchanged throughout.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from analytics.detection.standout_features import (
    CELLS,
    WARM,
    Floats,
    Visits,
    in_retest_errors,
    responses,
)
from analytics.detection.standout_reference import Against, Reference, compare
from registry.caloric.formulas import RETEST_SHARE, TOLERANCE

# As the registry's own finding: below this a response beats the wrong way (common practice).
NEGATIVE_BELOW: Final = -2.0
THREE: Final = 3
# Two together are a pair only where neither can be chance: 1.96 retest errors further (derived).
PAIR_ERRORS: Final = 1.96
# Two-sided 99 % of the usual visits: the range shown, and what makes a contrast a reason.
USUAL_ERRORS: Final = 2.5758293035489004
# Robust SD of the logarithm above which a response is larger than an eye's (by trying).
LARGEST_ERRORS: Final = 4.5
# Faster with a target than without, beyond what a retest explains (common practice, no source).
FIXATION_USUAL: Final = (-0.3, 1.3)
# Zero and near it repeat by themselves.
SAME_FROM: Final = 3.0
# One response explains both contrasts where the lesser is at least half the greater (by trying).
_ALIKE: Final = 0.5
# The factor of the registry's own finding of a single odd response (tuned there by simulation).
ODD_FACTOR: Final = 1.8
_PAIRS: Final = {"right": (0, 1), "left": (2, 3), "warm": (0, 2), "cool": (1, 3)}

REASONS: Final = (
    "three_or_more_negative",
    "negative_pair",
    "single_odd_response",
    "warm_cool_pattern",
    "direction_pattern",
    "very_large_response",
    "same_peak_and_fixation",
    "three_equal_peaks",
    "fixation_index_unusual",
)


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing to check in the record.

    ``value`` beside its usual range ``low`` to ``high`` (``None``: no such end): counts; deg/s for
    speeds; ratios for patterns and for a single odd response (observed over what the other three
    make expect). ``detail`` names the cell, pair, ear or temperature.
    """

    code: str
    value: float
    low: float | None = None
    high: float | None = None
    detail: str | None = None


@dataclass(frozen=True, slots=True)
class StandOut:
    """One visit: whether its record deserves a look, and why.

    ``distance`` in robust standard deviations of both contrasts together and its ``limit``;
    ``None`` with ``not_compared`` ``cell_missing`` or ``too_few_visits_known``. The rules without
    a reference speak all the same.
    """

    place: int
    distance: float | None
    limit: float
    negative_peaks: int
    reasons: tuple[Reason, ...]
    not_compared: str | None

    @property
    def stands_out(self) -> bool:
        """Whether there is anything to check."""
        return bool(self.reasons)


def stand_out(visits: Visits, reference: Reference) -> list[StandOut]:
    """Every visit against the network's reference, in order."""
    four, against = responses(visits), compare(visits, reference)
    seen = _Seen(visits, four, against, against.distance(), reference.distance_limit)
    return [_one(seen, place) for place in range(len(visits))]


@dataclass(frozen=True, slots=True)
class _Seen:
    visits: Visits
    four: Floats
    against: Against
    distance: Floats
    limit: float


def _one(seen: _Seen, place: int) -> StandOut:
    distance, four = seen.distance[place], seen.four[place]
    compared = bool(np.isfinite(distance))
    missing = not np.isfinite(four).all()
    reasons = [*_negative(four), *_copies(seen.visits, place), *_fixation(seen.visits, place)]
    if compared and distance > seen.limit:
        reasons += _patterns(seen, place)
    reasons += _very_large(seen, place)
    return StandOut(
        place=place,
        distance=float(distance) if compared else None,
        limit=seen.limit,
        negative_peaks=_count_negative(four),
        reasons=tuple(sorted(reasons, key=lambda one: REASONS.index(one.code))),
        not_compared=None if compared else "cell_missing" if missing else "too_few_visits_known",
    )


def _count_negative(four: Floats) -> int:
    return int((four < NEGATIVE_BELOW - TOLERANCE).sum())


def _negative(four: Floats) -> list[Reason]:
    count = _count_negative(four)
    if count >= THREE:
        return [Reason("three_or_more_negative", float(count), 0.0, 1.0)]
    below = four < NEGATIVE_BELOW - PAIR_ERRORS * np.sqrt(1.0 + (RETEST_SHARE * four) ** 2)
    return [
        Reason("negative_pair", float(max(four[list(cells)])), NEGATIVE_BELOW, None, name)
        for name, cells in _PAIRS.items()
        if below[list(cells)].all()
    ]


def _patterns(seen: _Seen, place: int) -> list[Reason]:
    """Which contrast carries the distance, and the one response that explains both, if one does."""
    against = seen.against
    warm, direction = against.warm_cool()[place], against.direction()[place]
    larger = max(abs(warm), abs(direction))
    if min(abs(warm), abs(direction)) >= _ALIKE * larger:
        odd = _odd_response(seen, place, warm, direction)
        if odd is not None:
            return [odd]
    found = []
    for code, off, value, centre, sd in (
        ("warm_cool_pattern", warm, *_figures(against, "warm_cool", place)),
        ("direction_pattern", direction, *_figures(against, "direction", place)),
    ):
        # The larger of the two always says why, be the range shown ever so wide.
        if abs(off) >= min(USUAL_ERRORS, larger):
            reach = USUAL_ERRORS * sd
            found.append(
                Reason(code, _ratio(value), _ratio(centre - reach), _ratio(centre + reach))
            )
    return found


def _figures(against: Against, name: str, place: int) -> tuple[float, float, float]:
    return (
        float(getattr(against.contrasts, name)[place]),
        float(getattr(against, f"{name}_centre")[place]),
        float(getattr(against, f"{name}_sd")[place]),
    )


def _ratio(units: float) -> float:
    """Retest standard errors as the ratio they stand for in strong responses."""
    return math.exp(RETEST_SHARE * units)


def _odd_response(seen: _Seen, place: int, warm: float, direction: float) -> Reason | None:
    """The response of the two that could explain both contrasts that lies further off.

    Both contrasts up: right warm is high or right cool low; one up and one down: left. ``None``
    where no ratio to the other three can be given because they are not all above 0.
    """
    four = seen.four[place]
    usual = np.exp(WARM * seen.against.usual_half[place])
    level = in_retest_errors(four / usual)
    off = np.abs(level - (level.sum() - level) / 3.0)
    pair = (0, 1) if (warm > 0) == (direction > 0) else (2, 3)
    cell = max(pair, key=lambda one: float(off[one]))
    others = np.delete(four / usual, cell)
    if (others <= TOLERANCE).any():
        return None
    expected = float(usual[cell]) * math.exp(float(np.log(others).mean()))
    factor = float(four[cell]) / expected
    return Reason("single_odd_response", factor, 1.0 / ODD_FACTOR, ODD_FACTOR, CELLS[cell])


def _very_large(seen: _Seen, place: int) -> list[Reason]:
    against, four = seen.against, seen.four[place]
    centre = against.largest_centre[place]
    limit = math.exp(centre + LARGEST_ERRORS * against.largest_spread[place])
    if not math.isfinite(limit) or not np.isfinite(four).any():
        return []
    cell = int(np.nanargmax(np.abs(four)))
    if abs(four[cell]) <= limit:
        return []
    return [Reason("very_large_response", float(four[cell]), -limit, limit, CELLS[cell])]


def _copies(visits: Visits, place: int) -> list[Reason]:
    """Peaks that are the same to the last digit, and so is what came with them."""
    peaks, fixation = visits.peaks[place], visits.fixation[place]
    found = []
    for one in range(len(CELLS)):
        for other in range(one + 1, len(CELLS)):
            same = peaks[one] == peaks[other] and fixation[one] == fixation[other]
            if same and abs(peaks[one]) >= SAME_FROM and abs(fixation[one]) > 0:
                names = f"{CELLS[one]}+{CELLS[other]}"
                found.append(Reason("same_peak_and_fixation", float(peaks[one]), detail=names))
    values, counts = np.unique(peaks[np.abs(peaks) >= SAME_FROM], return_counts=True)
    if len(counts) and counts.max() >= THREE:
        value = float(values[counts.argmax()])
        found.append(Reason("three_equal_peaks", value, detail=str(int(counts.max()))))
    return found


def _fixation(visits: Visits, place: int) -> list[Reason]:
    value, (low, high) = float(visits.fixation_index[place]), FIXATION_USUAL
    if math.isfinite(value) and not low <= value <= high:
        return [Reason("fixation_index_unusual", value, low, high)]
    return []
