"""Every index of a caloric visit, for one visit and for a million at once.

Both ways run the same lines of ``formulas``; one visit is an array of one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike

from registry.caloric import formulas
from registry.caloric.formulas import Codes, Flags, Floats, Peaks
from registry.caloric.vocabulary import UNDEFINED_REASONS

METHOD_VERSION: Final = 1
# Rows at a time: about thirty columns of this length stay in a core's own cache.
BLOCK: Final = 4096
HANDLING_CODES: Final = {
    "unknown": formulas.HANDLING_UNKNOWN,
    "not_removed": formulas.HANDLING_NOT_REMOVED,
    "removed": formulas.HANDLING_REMOVED,
}
_REASON_WORDS: Final = (None, *UNDEFINED_REASONS)
_FIXATION_PARTS: Final = (
    "right_warm",
    "left_warm",
    "right_cool",
    "left_cool",
    "right_beating",
    "left_beating",
    "overall",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Indices:
    """What the registry computes of one visit; totals in deg/s, the rest in % or as ratios.

    Weakness is right minus left: positive means the left side is lower. Preponderance is
    positive when right-beating. ``None`` is undefined, never 0; ``undefined_reason`` says why
    for weakness, preponderance and temperature effect. A pair of one temperature is undefined
    where its own total in this answer is ``None`` or not above 0.
    """

    right_total: float | None
    left_total: float | None
    warm_total: float | None
    cool_total: float | None
    total_spv: float | None
    unilateral_weakness_percent: float | None
    lower_side: str | None
    directional_preponderance_percent: float | None
    preponderance_direction: str | None
    temperature_effect_percent: float | None
    monothermal_warm_percent: float | None
    monothermal_cool_percent: float | None
    monothermal_warm_percent_spontaneous_removed: float | None
    monothermal_cool_percent_spontaneous_removed: float | None
    baseline_shift_percent: float | None
    gain_asymmetry_percent: float | None
    fixation_index_right_warm: float | None
    fixation_index_left_warm: float | None
    fixation_index_right_cool: float | None
    fixation_index_left_cool: float | None
    fixation_index_right_beating: float | None
    fixation_index_left_beating: float | None
    fixation_index_overall: float | None
    unilateral_weakness_se_retest: float | None
    unilateral_weakness_se_within_response: float | None
    directional_preponderance_se_retest: float | None
    directional_preponderance_se_within_response: float | None
    undefined_reason: str | None
    method_version: int = METHOD_VERSION

    def as_json(self) -> dict[str, Any]:
        """Plain values under their own names, the fixation indices together in one object."""
        body: dict[str, Any] = {}
        for name in _FIELDS:
            if name.startswith("fixation_index_"):
                part = name.removeprefix("fixation_index_")
                body.setdefault("fixation_index", {})[part] = getattr(self, name)
            else:
                body[name] = getattr(self, name)
        return body


_FIELDS: Final = tuple(field.name for field in fields(Indices))
_WORDS: Final = ("lower_side", "preponderance_direction", "undefined_reason", "method_version")
NUMBERS: Final = tuple(name for name in _FIELDS if name not in _WORDS)
_UNILATERAL: Final = NUMBERS.index("unilateral_weakness_percent")
_DIRECTIONAL: Final = NUMBERS.index("directional_preponderance_percent")


@dataclass(frozen=True, slots=True)
class IndexArrays:
    """Indices of n visits as columns: ``columns[name]`` float64 of length n, NaN undefined.

    ``names`` of the columns are those of ``Indices``; ``reason`` holds 0 where the weakness is
    defined, else 1 + the place of its word in ``vocabulary.UNDEFINED_REASONS``.
    """

    columns: dict[str, Floats]
    reason: Codes

    def __len__(self) -> int:
        return len(self.reason)

    def rows(self) -> list[Indices]:
        """One ``Indices`` a visit, in order."""
        numbers = zip(*(self.columns[name].tolist() for name in NUMBERS), strict=True)
        return [
            _indices(row, _REASON_WORDS[code])
            for row, code in zip(numbers, self.reason.tolist(), strict=True)
        ]


def compute_indices(
    rw: ArrayLike,
    rc: ArrayLike,
    lw: ArrayLike,
    lc: ArrayLike,
    *,
    spontaneous: ArrayLike | None = None,
    handling: str | ArrayLike = "unknown",
    fixation: Sequence[ArrayLike] | None = None,
    before_fixation: Sequence[ArrayLike] | None = None,
    standard_errors: Sequence[ArrayLike] | None = None,
    monothermal_done: ArrayLike | None = None,
) -> IndexArrays:
    """Indices of n visits from their four peaks (deg/s, positive as expected, NaN missing).

    Parameters
    ----------
    rw, rc, lw, lc
        Right warm, right cool, left warm, left cool; each of length n.
    spontaneous
        Spontaneous nystagmus, right-beating positive, NaN where not recorded.
    handling
        One of the words of ``HANDLING_CODES`` for all, or their codes, length n.
    fixation, before_fixation, standard_errors
        Four arrays each, in the order rw, rc, lw, lc: speed with fixation, speed just before
        it, and SE of each peak from its beats.
    monothermal_done
        True where only one temperature was irrigated; ``None`` judges by the peaks.

    Raises ``ValueError`` where the lengths differ.
    """
    peaks = _peaks((rw, rc, lw, lc))
    n = len(peaks.rw)
    source = _Source(
        peaks=peaks,
        spontaneous=_column(np.nan if spontaneous is None else spontaneous, n),
        handling=_handling(handling, n),
        fixation=None if fixation is None else _peaks(fixation, n),
        before=None if before_fixation is None else _peaks(before_fixation, n),
        errors=None if standard_errors is None else _peaks(standard_errors, n),
        monothermal=None if monothermal_done is None else np.asarray(monothermal_done, np.bool_),
    )
    out = IndexArrays({name: np.empty(n) for name in NUMBERS}, np.empty(n, np.int8))
    for start in range(0, n, BLOCK):
        _fill(out, source, slice(start, start + BLOCK))
    return out


@dataclass(frozen=True, slots=True)
class _Source:
    peaks: Peaks
    spontaneous: Floats
    handling: Codes
    fixation: Peaks | None
    before: Peaks | None
    errors: Peaks | None
    monothermal: Flags | None


def _fill(out: IndexArrays, source: _Source, rows: slice) -> None:
    p, sn, handling = _cut(source.peaks, rows), source.spontaneous[rows], source.handling[rows]
    found = formulas.percentages(p, sn, handling)
    found |= formulas.retest_errors(p, sn, handling)
    if source.errors is not None:
        errors = _cut(source.errors, rows)
        found |= formulas.within_response_errors(p, errors, sn, handling)
    if source.fixation is not None and source.before is not None:
        found |= formulas.fixation_indices(_cut(source.fixation, rows), _cut(source.before, rows))
    for name in NUMBERS:
        out.columns[name][rows] = found.get(name, np.nan)
    done = None if source.monothermal is None else source.monothermal[rows]
    out.reason[rows] = formulas.undefined_reasons(p, found, done)


def _cut(peaks: Peaks, rows: slice) -> Peaks:
    return Peaks(peaks.rw[rows], peaks.rc[rows], peaks.lw[rows], peaks.lc[rows])


def _peaks(four: Sequence[ArrayLike], n: int | None = None) -> Peaks:
    first = np.asarray(four[0], np.float64)
    length = len(first) if n is None else n
    return Peaks(*(_column(one, length) for one in four))


def _column(values: ArrayLike, n: int) -> Floats:
    return np.broadcast_to(np.asarray(values, np.float64), (n,))


def _handling(handling: str | ArrayLike, n: int) -> Codes:
    codes = HANDLING_CODES[handling] if isinstance(handling, str) else handling
    return np.broadcast_to(np.asarray(codes, np.int8), (n,))


def _indices(row: tuple[float, ...], reason: str | None) -> Indices:
    # x == x is false for NaN alone; + 0.0 keeps a "-0.0" from reaching a reader.
    numbers = [value + 0.0 if value == value else None for value in row]
    by_name: dict[str, Any] = dict(zip(NUMBERS, numbers, strict=True))
    return Indices(
        **by_name,
        lower_side=_side(numbers[_UNILATERAL], "left", "right"),
        preponderance_direction=_side(numbers[_DIRECTIONAL], "right_beating", "left_beating"),
        undefined_reason=reason,
    )


def _side(percent: float | None, positive: str, negative: str) -> str | None:
    if percent is None:
        return None
    if abs(percent) <= formulas.TOLERANCE:
        return "none"
    return positive if percent > 0 else negative
