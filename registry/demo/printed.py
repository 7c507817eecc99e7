"""The figures that a clinic's own system prints, worked out here as such a system would."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

Document = dict[str, Any]


def printed_figures(
    counted: Mapping[int, float], style: str, *, slip: bool = False
) -> Document | None:
    """Weakness and preponderance in percent with a side in words, and the total in deg/s.

    ``counted`` maps right warm, left warm, right cool, left cool (0-3) to the peak, positive
    as expected. Nothing is printed where a cell is missing or the sum is not positive. A
    ``clamped`` system sets negative peaks to zero, the fault that Byun, J Korean Bal Soc
    2005;4(2):238-242, warns of; with ``slip`` a figure was copied wrongly. Formulas: Jongkees,
    Maas, Philipszoon, Pract Otorhinolaryngol 1962;24:65-93.
    """
    if len(counted) < 4:
        return None
    peaks = [counted[cell] for cell in range(4)]
    if style == "clamped":
        peaks = [max(peak, 0.0) for peak in peaks]
    right_warm, left_warm, right_cool, left_cool = peaks
    total = sum(peaks)
    if total <= 0:
        return None
    decimals = 0 if style == "whole" else 1
    weakness = 100 * (right_warm + right_cool - left_warm - left_cool) / total
    preponderance = 100 * (right_warm + left_cool - left_warm - right_cool) / total
    weakness, preponderance = round(weakness, decimals), round(preponderance, decimals)
    return {
        "unilateral_weakness_percent": abs(weakness) + (7.0 if slip else 0.0),
        "lower_side": _word(weakness, "left", "right"),
        "directional_preponderance_percent": abs(preponderance),
        "preponderance_direction": _word(preponderance, "right_beating", "left_beating"),
        "total_spv": round(total, decimals),
    }


def _word(value: float, positive: str, negative: str) -> str:
    return "none" if value == 0 else positive if value > 0 else negative
