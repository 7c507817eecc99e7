"""The faults planted in the invented network, so that what should be found is known.

Each is described in ``fixtures/demo/README.md`` and repeated in ``fixtures/demo/planted.json``,
which is written by hand; a test compares the two. Days count from the first of the two years.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from registry.demo.scenario import MONTH_DAYS

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class WeakResponses:
    """A tester whose responses run weak, as with a nozzle that points past the drum."""

    clinic: str
    tester: str
    from_month: int
    factor: float


@dataclass(frozen=True, slots=True)
class RoundedPeaks:
    """A tester who enters peaks to the nearest ``step`` deg/s."""

    clinic: str
    tester: str
    step: float


@dataclass(frozen=True, slots=True)
class DriftingIrrigator:
    """An irrigator that delivers a little warmer every month, warm and cool alike."""

    clinic: str
    irrigator: str
    from_month: int
    c_per_month: float


@dataclass(frozen=True, slots=True)
class EarsExchanged:
    """A clinic that labels right as left and left as right; ``last_day`` is included."""

    clinic: str
    first_day: int
    last_day: int


@dataclass(frozen=True, slots=True)
class ManyRepeats:
    """A tester who repeats an irrigation in this share of the visits."""

    clinic: str
    tester: str
    from_month: int
    share: float


@dataclass(frozen=True, slots=True)
class FailedCheck:
    """An irrigator that turns cold, fails its next check and is used until ``last_day``."""

    clinic: str
    irrigator: str
    first_day: int
    last_day: int
    offset_c: float


WEAK_RESPONSES: Final = WeakResponses("OCK", "T-21", from_month=12, factor=0.75)
ROUNDED_PEAKS: Final = RoundedPeaks("DUN", "T-28", step=5.0)
DRIFTING_IRRIGATOR: Final = DriftingIrrigator("FAR", "IR-20", from_month=18, c_per_month=0.1)
EARS_EXCHANGED: Final = EarsExchanged("YSS", first_day=500, last_day=513)
MANY_REPEATS: Final = ManyRepeats("BRE", "T-35", from_month=9, share=0.33)
FAILED_CHECK: Final = FailedCheck("MIR", "IR-26", first_day=430, last_day=444, offset_c=-1.3)

PLANTED: Final = {
    "weak_responses": WEAK_RESPONSES,
    "rounded_peaks": ROUNDED_PEAKS,
    "drifting_irrigator": DRIFTING_IRRIGATOR,
    "ears_exchanged": EARS_EXCHANGED,
    "many_repeats": MANY_REPEATS,
    "failed_check": FAILED_CHECK,
}


def start_day(month: int) -> int:
    """The first day of month ``month``, counted from 0: month 12 opens the second year."""
    return round(month * MONTH_DAYS)


def response_factor(tester: str, day: Ints) -> Floats:
    """What a tester's hand multiplies every response by, for each day."""
    weak = tester == WEAK_RESPONSES.tester
    fault = weak & (day >= start_day(WEAK_RESPONSES.from_month))
    return np.where(fault, WEAK_RESPONSES.factor, 1.0)


def temperature_fault_c(irrigator: str, day: Ints) -> Floats:
    """What a fault adds to the delivered temperature of an irrigator, in Cel, for each day."""
    if irrigator == DRIFTING_IRRIGATOR.irrigator:
        months = (day - start_day(DRIFTING_IRRIGATOR.from_month)) / MONTH_DAYS
        return np.maximum(months, 0.0) * DRIFTING_IRRIGATOR.c_per_month
    if irrigator == FAILED_CHECK.irrigator:
        return np.where(day >= FAILED_CHECK.first_day, FAILED_CHECK.offset_c, 0.0)
    return np.zeros(day.shape)


def repeat_share(tester: str, day: Ints, usual: float) -> Floats:
    """In what share of visits a tester repeats an irrigation, for each day."""
    many = tester == MANY_REPEATS.tester
    fault = many & (day >= start_day(MANY_REPEATS.from_month))
    return np.where(fault, MANY_REPEATS.share, usual)


def ears_exchanged(clinic: str, day: int) -> bool:
    """Whether the clinic labelled the ears the wrong way round on that day."""
    fault = EARS_EXCHANGED
    return clinic == fault.clinic and fault.first_day <= day <= fault.last_day
