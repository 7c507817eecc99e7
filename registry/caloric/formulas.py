"""The formulas of a caloric visit, written once, for a block of visits at a time.

Notation: ``rw rc lw lc`` are the four peaks in deg/s, positive in the expected direction; right,
left, warm, cool and whole are their sums; NaN stands for "not there" and for "undefined", and is
turned into ``None`` before anyone reads it. Nothing is clamped and no sign is dropped: setting
negative peaks to zero turned a mean paresis of 80.9 % into 52.1 % (Byun, J Korean Bal Soc
2005;4(2):238-242).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Codes = NDArray[np.int8]
Flags = NDArray[np.bool_]

TOLERANCE: Final = 1e-9
# Below this every response is called absent (deg/s).
NO_RESPONSE_BELOW: Final = 2.0
# Smallest speed before fixation that a pooled fixation index leans on (deg/s).
FIXATION_BASE_FROM: Final = 8.0
# Retest SE of a peak: 1 deg/s and 17 % of it. 0.17 is derived from the 24-point retest limit of
# the weakness, read as a 95 % limit: Proctor et al., Ann Otol Rhinol Laryngol 1986;95:83-90.
RETEST_FLOOR: Final = 1.0
RETEST_SHARE: Final = 0.17

HANDLING_UNKNOWN, HANDLING_NOT_REMOVED, HANDLING_REMOVED = 0, 1, 2
DEFINED, NO_RESPONSE, SUM_NOT_POSITIVE, MISSING_IRRIGATION, MONOTHERMAL = range(5)


@dataclass(frozen=True, slots=True)
class Peaks:
    """Four columns, one value a visit; the fields are the cells."""

    rw: Floats
    rc: Floats
    lw: Floats
    lc: Floats


def percentages(p: Peaks, spontaneous: Floats, handling: Codes) -> dict[str, Floats]:
    """Totals and percentages of each visit.

    Weakness: Jongkees, Maas, Philipszoon, Pract Otorhinolaryngol 1962;24:65-93 (from memory);
    preponderance: concept Fitzgerald & Hallpike, Brain 1942;65:115-137 (from memory);
    temperature effect: Baloh et al., Ann Otol Rhinol Laryngol 1977;86(5 Pt 3 Suppl 43):24-30;
    one temperature alone: Lightfoot et al., Ear Hear 2009;30(1):54-62; shift and gain: derived.
    """
    right, left, warm, cool = p.rw + p.rc, p.lw + p.lc, p.rw + p.lw, p.rc + p.lc
    total = right + left
    whole = _positive(total)
    known, put_back = _spontaneous(spontaneous, handling)
    to_right, to_left = _beating(p, put_back)
    preponderance = 100.0 * (to_right - to_left) / whole
    shift = 400.0 * known / whole
    return {
        "right_total": right,
        "left_total": left,
        "warm_total": warm,
        "cool_total": cool,
        "total_spv": total,
        "unilateral_weakness_percent": 100.0 * (right - left) / whole,
        "directional_preponderance_percent": preponderance,
        "temperature_effect_percent": 100.0 * (warm - cool) / whole,
        "baseline_shift_percent": shift,
        "gain_asymmetry_percent": preponderance - shift,
        **_one_temperature("warm", p.rw - p.lw, warm, put_back, known),
        **_one_temperature("cool", p.rc - p.lc, cool, -put_back, -known),
    }


def retest_errors(p: Peaks, spontaneous: Floats, handling: Codes) -> dict[str, Floats]:
    """SE of weakness and preponderance on repeating the whole test, in points.

    Each peak's own SE is sqrt(1 + (0.17 peak)^2) deg/s (derived, see ``RETEST_SHARE``).
    """
    variances = [RETEST_FLOOR**2 + (RETEST_SHARE * x) ** 2 for x in (p.rw, p.rc, p.lw, p.lc)]
    return _errors("retest", p, Peaks(*variances), spontaneous, handling)


def within_response_errors(
    p: Peaks, standard_errors: Peaks, spontaneous: Floats, handling: Codes
) -> dict[str, Floats]:
    """SE of weakness and preponderance from the spread of the beats within each response."""
    s = standard_errors
    variances = Peaks(s.rw * s.rw, s.rc * s.rc, s.lw * s.lw, s.lc * s.lc)
    return _errors("within_response", p, variances, spontaneous, handling)


def fixation_indices(fixation: Peaks, before: Peaks) -> dict[str, Floats]:
    """Speed with fixation over the speed just before it, by cell and pooled.

    Takemori, Ann Otol Rhinol Laryngol 1977;86:80-85. The pooled ones are ratios of sums over the
    cells with at least 8 deg/s before fixation (derived: a mean of ratios would let the weakest
    response decide).
    """
    usable = {cell: _pooled(fixation, before, cell) for cell in ("rw", "lc", "lw", "rc")}
    right = _sum_pairs(usable["rw"], usable["lc"])
    left = _sum_pairs(usable["lw"], usable["rc"])
    return {
        "fixation_index_right_warm": _ratio(fixation.rw, before.rw),
        "fixation_index_left_warm": _ratio(fixation.lw, before.lw),
        "fixation_index_right_cool": _ratio(fixation.rc, before.rc),
        "fixation_index_left_cool": _ratio(fixation.lc, before.lc),
        "fixation_index_right_beating": _ratio(*right),
        "fixation_index_left_beating": _ratio(*left),
        "fixation_index_overall": _ratio(*_sum_pairs(right, left)),
    }


def undefined_reasons(
    p: Peaks, sums: Mapping[str, Floats], monothermal_done: Flags | None
) -> Codes:
    """Why weakness, preponderance and temperature effect are undefined: a code a visit, 0 if not.

    ``monothermal_done`` (``None``: judged by the peaks alone) lets a visit whose second
    temperature was irrigated, but gave no peak, be a missing irrigation.
    """
    total = sums["total_spv"]
    largest = np.maximum(
        np.maximum(np.abs(p.rw), np.abs(p.rc)), np.maximum(np.abs(p.lw), np.abs(p.lc))
    )
    absent = np.where(largest < NO_RESPONSE_BELOW - TOLERANCE, NO_RESPONSE, SUM_NOT_POSITIVE)
    reason = np.where(total > TOLERANCE, DEFINED, absent).astype(np.int8)
    missing = np.isnan(total)
    if missing.any():
        one_pair = _only_one_pair(p, sums)
        if monothermal_done is not None:
            one_pair &= monothermal_done
        reason[missing] = np.where(one_pair, MONOTHERMAL, MISSING_IRRIGATION)[missing]
    return reason


def _only_one_pair(p: Peaks, sums: Mapping[str, Floats]) -> Flags:
    no_warm, no_cool = np.isnan(p.rw) & np.isnan(p.lw), np.isnan(p.rc) & np.isnan(p.lc)
    warm, cool = ~np.isnan(sums["warm_total"]), ~np.isnan(sums["cool_total"])
    one_pair: Flags = (warm & no_cool) | (cool & no_warm)
    return one_pair


def _positive(total: Floats) -> Floats:
    """The sum where it is above 0, else NaN: a percentage of nothing is undefined."""
    return np.where(total > TOLERANCE, total, np.nan)


def _spontaneous(spontaneous: Floats, handling: Codes) -> tuple[Floats, Floats]:
    """The nystagmus where its handling is known (else NaN), and what was removed (else 0)."""
    known = np.where(handling == HANDLING_UNKNOWN, np.nan, spontaneous)
    removed = (handling == HANDLING_REMOVED) & ~np.isnan(known)
    return known, np.where(removed, known, 0.0)


def _beating(p: Peaks, put_back: Floats) -> tuple[Floats, Floats]:
    """Sum of the right-beating and of the left-beating responses, as recorded in the chair."""
    return p.rw + p.lc + 2.0 * put_back, p.lw + p.rc - 2.0 * put_back


def _one_temperature(
    name: str, difference: Floats, pair: Floats, put_back: Floats, known: Floats
) -> dict[str, Floats]:
    """Asymmetry of one temperature, as recorded and without the spontaneous nystagmus.

    A right-beating nystagmus b gives RW + b and LW - b: the warm sum stays, the difference grows
    by 2b, so the percentage by 200 b / (RW + LW). In the cool pair it is the left ear that beats
    right, hence -200 b / (RC + LC), and the caller hands b over negated (derived).
    """
    base = _positive(pair)
    recorded = 100.0 * (difference + 2.0 * put_back) / base
    return {
        f"monothermal_{name}_percent": recorded,
        f"monothermal_{name}_percent_spontaneous_removed": recorded - 200.0 * known / base,
    }


def _errors(
    kind: str, p: Peaks, variance: Peaks, spontaneous: Floats, handling: Codes
) -> dict[str, Floats]:
    """Delta method: d(index)/d(one side) = 200 (other side) / S^2 (derived)."""
    right, left = p.rw + p.rc, p.lw + p.lc
    squared = _positive(right + left) ** 2
    to_right, to_left = _beating(p, _spontaneous(spontaneous, handling)[1])
    v = variance
    ears = left**2 * (v.rw + v.rc) + right**2 * (v.lw + v.lc)
    directions = to_left**2 * (v.rw + v.lc) + to_right**2 * (v.lw + v.rc)
    return {
        f"unilateral_weakness_se_{kind}": 200.0 * np.sqrt(ears) / squared,
        f"directional_preponderance_se_{kind}": 200.0 * np.sqrt(directions) / squared,
    }


def _pooled(fixation: Peaks, before: Peaks, cell: str) -> tuple[Floats, Floats]:
    """Both speeds of a cell where they may be pooled, else 0 and 0."""
    with_fixation, base = getattr(fixation, cell), getattr(before, cell)
    usable = (base >= FIXATION_BASE_FROM - TOLERANCE) & ~np.isnan(with_fixation)
    return np.where(usable, with_fixation, 0.0), np.where(usable, base, 0.0)


def _sum_pairs(one: tuple[Floats, Floats], other: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
    return one[0] + other[0], one[1] + other[1]


def _ratio(part: Floats, base: Floats) -> Floats:
    ratio: Floats = part / np.where(np.abs(base) > TOLERANCE, base, np.nan)
    return ratio
