"""What of a visit's four responses may look odd, and what is the patient's own.

Responses go through asinh(0.17 x) / 0.17, which has a retest standard error of one unit at every
size (derived from the SE of the registry, sqrt(1 + (0.17 x)^2) deg/s): the logarithm of a strong
response, plain deg/s near 0, and negative ones keep their place. Four responses have four
contrasts. The level and the contrast of the ears belong to the patient: a quarter have a weak
ear. What no ear's weakness makes are the contrast of warm and cool and that of the two beat
directions, each taken against what an ear of this total gives.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from registry.caloric.formulas import HANDLING_NOT_REMOVED, HANDLING_REMOVED, RETEST_SHARE

Floats = NDArray[np.float64]
Codes = NDArray[np.int64]
Flags = NDArray[np.bool_]

CELLS: Final = ("right_warm", "right_cool", "left_warm", "left_cool")
# What a right-beating spontaneous nystagmus adds to each cell.
RIGHT_BEATING: Final = np.array([1.0, -1.0, -1.0, 1.0])
WARM: Final = np.array([1.0, -1.0, 1.0, -1.0])
# A mean of four responses' differences, each with an error of one unit (derived).
RETEST_VARIANCE: Final = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Visits:
    """n visits as columns; NaN is "not known".

    ``peaks`` shape (n, 4) in the order of ``CELLS``, deg/s, positive in the expected direction;
    ``spontaneous`` (n,) right-beating positive; ``handling`` (n,) codes of
    ``registry.caloric.formulas``; ``medium`` and ``peak_basis`` (n,) words; ``fixation`` (n, 4)
    speeds with fixation; ``fixation_index`` (n,) the overall one.
    """

    peaks: Floats
    spontaneous: Floats
    handling: Codes
    medium: NDArray[np.str_]
    peak_basis: NDArray[np.str_]
    fixation: Floats
    fixation_index: Floats

    def __post_init__(self) -> None:
        count = len(self.peaks)
        wide = self.peaks.shape == self.fixation.shape == (count, len(CELLS))
        narrow = (self.spontaneous, self.handling, self.medium, self.peak_basis)
        if not wide or any(x.shape != (count,) for x in (*narrow, self.fixation_index)):
            raise ValueError(f"columns of {count} visits differ in length, or are not four wide")

    def __len__(self) -> int:
        return len(self.peaks)


def spontaneous_known(visits: Visits) -> Flags:
    """Whether the responses can be told from the spontaneous nystagmus."""
    recorded = np.isfinite(visits.spontaneous)
    taken_out = visits.handling == HANDLING_REMOVED
    return np.asarray(taken_out | (recorded & (visits.handling == HANDLING_NOT_REMOVED)))


def responses(visits: Visits) -> Floats:
    """The four peaks without the spontaneous nystagmus where it is known, else as they are."""
    inside = (visits.handling == HANDLING_NOT_REMOVED) & np.isfinite(visits.spontaneous)
    level = np.where(inside, visits.spontaneous, 0.0)
    return np.asarray(visits.peaks - level[:, None] * RIGHT_BEATING)


def in_retest_errors(speed: Floats) -> Floats:
    """Speeds on the scale whose retest standard error is one."""
    return np.asarray(np.arcsinh(RETEST_SHARE * speed) / RETEST_SHARE)


@dataclass(frozen=True, slots=True)
class Contrasts:
    """Two contrasts a visit in retest standard errors, NaN where a cell is missing.

    ``warm_cool`` and ``direction`` (right-beating over left-beating); times 0.17 and of strong
    responses they are logarithms of ratios. ``reach`` (units squared) says how much of a
    difference between patients on the log scale arrives: little where the totals are small.
    """

    warm_cool: Floats
    direction: Floats
    reach: Floats


def contrasts(four: Floats, usual_half: Floats) -> Contrasts:
    """Contrasts of responses, shape (n, 4), against the usual split of each ear's total.

    ``usual_half``, shape (n,), is half the usual ln(warm / cool).
    """
    right, right_reach = _ear(four[:, 0], four[:, 1], usual_half)
    left, left_reach = _ear(four[:, 2], four[:, 3], usual_half)
    return Contrasts(
        (right + left) / 2.0, (right - left) / 2.0, (right_reach**2 + left_reach**2) / 2.0
    )


def usual_half_of(four: Floats) -> float:
    """Half the usual ln(warm / cool): the median over visits with four responses from 8 deg/s."""
    strong = four[(four >= 8.0).all(axis=1)]
    return float(np.median(np.log(strong) @ WARM) / 4.0) if len(strong) else 0.0


def _ear(warm: Floats, cool: Floats, usual_half: Floats) -> tuple[Floats, Floats]:
    """Warm minus cool beyond what the ear's total makes expect, and the reach of one ear."""
    total = np.maximum(warm + cool, 0.0)
    usual_warm = total / (1.0 + np.exp(-2.0 * usual_half))
    usual_cool = total - usual_warm
    beyond = (in_retest_errors(warm) - in_retest_errors(usual_warm)) - (
        in_retest_errors(cool) - in_retest_errors(usual_cool)
    )
    reach = (_slope(usual_warm) + _slope(usual_cool)) / 2.0
    return beyond, reach


def _slope(speed: Floats) -> Floats:
    """How far one unit of the logarithm of a speed moves it on the retest scale."""
    return np.asarray(speed / np.sqrt(1.0 + (RETEST_SHARE * speed) ** 2))
