"""Spontaneous nystagmus: what of it is in the peaks, and what is left when it is taken out.

A steady horizontal nystagmus that beats right at SN deg/s adds SN to the right-beating cells
and takes SN from the left-beating ones (derived; the concept of directional preponderance:
Fitzgerald & Hallpike, Brain 1942;65:115-137, from memory).
"""

from __future__ import annotations

import math
from typing import Final

from registry.caloric.responses import right_beating_sign
from registry.caloric.visit import Irrigation, Visit

# These change with gaze, time or plane, so no single horizontal figure can be taken out.
NOT_REMOVABLE: Final = frozenset({"direction_changing", "vertical", "lifelong"})


def recorded_spontaneous(visit: Visit) -> float | None:
    """Recorded speed that may be removed, right-beating positive; ``None``: not known."""
    spontaneous = visit.spontaneous
    if spontaneous is None or spontaneous.kind in NOT_REMOVABLE:
        return None
    return spontaneous.spv


def handling(visit: Visit) -> str:
    """``not_removed``, ``removed`` or ``unknown``; not recorded is unknown."""
    return (visit.spontaneous and visit.spontaneous.handling) or "unknown"


def level_in_cell(visit: Visit, irrigation: Irrigation) -> float:
    """Speed the spontaneous nystagmus adds to this response, in the sign of its cell, deg/s.

    The irrigation's own baseline is nearer in time than the visit's figure and goes first. Where
    it was already removed, or is not known, the level is 0: the zero line is all there is.
    """
    if handling(visit) == "removed":
        return 0.0
    recorded = irrigation.baseline_spv
    if recorded is None:
        recorded = recorded_spontaneous(visit)
    return 0.0 if recorded is None else right_beating_sign(irrigation) * recorded


def responses_without(visit: Visit, irrigation: Irrigation) -> tuple[float, ...]:
    """The peak with the spontaneous nystagmus taken out, deg/s: every value it can have.

    None where the nystagmus is not known, one where it is, two where it is unknown whether the
    peak still holds it.
    """
    peak = irrigation.peak_spv
    if peak is None:
        return ()
    if handling(visit) == "removed":
        return (peak,)
    recorded = recorded_spontaneous(visit)
    if recorded is None:
        return ()
    without = peak - right_beating_sign(irrigation) * recorded
    return (without,) if handling(visit) == "not_removed" else (without, peak)


def formula_values(visit: Visit) -> tuple[float, str]:
    """Spontaneous speed (NaN: not known) and handling as ``compute_indices`` takes them."""
    recorded = recorded_spontaneous(visit)
    return (math.nan if recorded is None else recorded), handling(visit)
