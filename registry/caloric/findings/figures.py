"""Do the figures that were sent agree with those computed here?"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

from registry.caloric.case import Case
from registry.caloric.findings.finding import Finding
from registry.caloric.vocabulary import CELLS

_TOLERANCE = 1e-9
_SIGN_OF_SIDE: Final = {"left": 1, "right": -1, "left_beating": -1, "right_beating": 1}
_WEAKNESS: Final = "unilateral_weakness_percent"
_PREPONDERANCE: Final = "directional_preponderance_percent"


def reported_value_differs(case: Case) -> Iterator[Finding]:
    """A printed figure lies more than 1 point from the one computed here.

    ``detail`` names the index and, where the printed figure equals it, the other way of
    computing: ``equals_clamped`` (negative peaks as 0), ``equals_signs_dropped``,
    ``equals_spontaneous_removed``, ``equals_other_side``. Byun, J Korean Bal Soc
    2005;4(2):238-242 shows how far the first is off. ``value`` is what was printed, positive
    for lower on the left and for right-beating.
    """
    reported = case.visit.reported
    if reported is None:
        return
    figures = (
        (_WEAKNESS, reported.unilateral_weakness_percent, reported.lower_side),
        (
            _PREPONDERANCE,
            reported.directional_preponderance_percent,
            reported.preponderance_direction,
        ),
        ("total_spv", reported.total_spv, None),
    )
    limit = case.procedure.reported_tolerance_points
    for name, printed, side in figures:
        if printed is None:
            continue
        sign = _SIGN_OF_SIDE.get(side or "")
        if not _equal(printed, sign, getattr(case.indices, name), limit):
            detail = _explained(case, name, printed, sign)
            yield Finding("reported_value_differs", None, detail, printed * (sign or 1), limit)


def peak_differs_from_beats(case: Case) -> Iterator[Finding]:
    """Peak sent and peak computed from its beats are more than max(2 deg/s, 15 %) apart.

    Common practice; 15 % of the peak sent. ``value`` is sent minus computed. Where it is not
    known how a response beat only the sizes are compared.
    """
    for one in case.visit.irrigations:
        sent, beats = case.sent_peaks.get(one.name), case.beat_peaks.get(one.name)
        if not one.usable or sent is None or beats is None or beats.peak_spv is None:
            continue
        if case.directions_known or one.beat_direction is not None:
            apart = sent - beats.peak_spv
        else:
            apart = abs(sent) - abs(beats.peak_spv)
        procedure = case.procedure
        limit = max(procedure.peak_difference_deg_s, procedure.peak_difference_share * abs(sent))
        if abs(apart) > limit + _TOLERANCE:
            yield Finding("peak_differs_from_beats", one.name, None, apart, limit)


def unsteady_percentages(case: Case) -> Iterator[Finding]:
    """Total response under 24 deg/s: the standard error of a percentage grows as 1/total."""
    total, limit = case.indices.total_spv, case.criteria.limit("unsteady_percentages")
    is_defined = case.indices.unilateral_weakness_percent is not None
    if is_defined and total is not None and limit.is_above(total):
        yield Finding("unsteady_percentages", None, None, total, limit.value)


def _equal(printed: float, sign: int | None, ours: float | None, limit: float) -> bool:
    """Within the limit; where no side was printed, only the size is compared."""
    if ours is None:
        return False
    apart = abs(printed - abs(ours)) if sign is None else abs(sign * printed - ours)
    return apart <= limit + _TOLERANCE


def _explained(case: Case, name: str, printed: float, sign: int | None) -> str:
    limit = case.procedure.reported_tolerance_points
    ours = getattr(case.indices, name)
    ways: list[tuple[str, float | None]] = [
        ("equals_clamped", _recomputed(case, name, lambda peak: max(peak, 0.0))),
        ("equals_signs_dropped", _recomputed(case, name, abs)),
    ]
    if name == _PREPONDERANCE:
        ways.append(("equals_spontaneous_removed", case.indices.gain_asymmetry_percent))
    if sign is not None:
        ways.append(("equals_other_side", None if ours is None else -ours))
    for word, value in ways:
        if _equal(printed, sign, value, limit):
            return f"{name}:{word}"
    return name


def _recomputed(case: Case, name: str, change: Callable[[float], float]) -> float | None:
    """The index from changed peaks; ``None`` where it is undefined or nothing was negative."""
    peaks = [one.peak_spv for cell in CELLS if (one := case.counted.get(cell)) is not None]
    known = [peak for peak in peaks if peak is not None]
    if len(known) < 4 or min(known) >= 0:
        return None
    right_warm, left_warm, right_cool, left_cool = (change(peak) for peak in known)
    total = right_warm + left_warm + right_cool + left_cool
    if name == "total_spv":
        return total
    if total <= _TOLERANCE:
        return None
    left_cell_sign = -1 if name == _WEAKNESS else 1
    first = right_warm - left_warm
    return 100.0 * (first + left_cell_sign * (left_cool - right_cool)) / total
