"""What a fixation index divides by."""

from __future__ import annotations

import math

from registry.caloric.visit import Irrigation


def denominator(irrigation: Irrigation) -> tuple[float, str | None]:
    """Speed before fixation in deg/s (NaN: none) and where it comes from.

    ``pre_fixation``: measured just before. ``peak``: the peak, where that was not recorded.
    ``None``: no fixation was recorded, or nothing to divide by. Takemori, Ann Otol Rhinol
    Laryngol 1977;86:80-85.
    """
    if irrigation.fixation_spv is None:
        return math.nan, None
    if irrigation.pre_fixation_spv is not None:
        return irrigation.pre_fixation_spv, "pre_fixation"
    if irrigation.peak_spv is not None:
        return irrigation.peak_spv, "peak"
    return math.nan, None
