"""What an irrigator really delivers: the same truth behind its checks and its tests."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from registry.demo.faults import temperature_fault_c
from registry.demo.scenario import Clinic, Irrigator

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

BODY_C: Final = 37.0
# From one delivery to the next, and from one reading to the next: derived, no source.
DELIVERY_NOISE_C: Final = 0.08
READING_NOISE_C: Final = 0.08
# A slow swing to and fro, too small and too quick to pass for a drift.
_SWING_C: Final = 0.03
_SWING_DAYS: Final = 91.0


def offset_c(irrigator: Irrigator, day: Ints) -> Floats:
    """Delivered minus set temperature in Cel on each day: its own, a swing and a fault's."""
    phase = sum(irrigator.code.encode("ascii")) % 12 / 12
    swing = _SWING_C * np.sin(2 * np.pi * (day / _SWING_DAYS + phase))
    return irrigator.offset_c + swing + temperature_fault_c(irrigator.code, day)


def set_temperatures(clinic: Clinic, irrigator: Ints) -> Floats:
    """Set warm and cool temperature in Cel of each visit's irrigator: shape (visits, 2)."""
    table = np.array([[i.delivery.warm_c, i.delivery.cool_c] for i in clinic.irrigators])
    return np.asarray(table[irrigator], dtype=np.float64)


def visit_offsets(clinic: Clinic, irrigator: Ints, day: Ints) -> Floats:
    """The offset in Cel behind each visit of a clinic."""
    offsets = np.zeros(len(day))
    for place, device in enumerate(clinic.irrigators):
        at = irrigator == place
        offsets[at] = offset_c(device, day[at])
    return offsets
