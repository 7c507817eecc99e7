"""The computed indices in words: the figure, or the reason why there is none; never a 0 for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from registry.caloric.retest import retest_interval
from registry.pages.figures import interval_words, percent_words, rounded, total_words
from registry.pages.words import say

Json = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class IndexRow:
    """``notes`` are the interval and the standard errors, where the index has them."""

    name: str
    label: str
    value: str
    defined: bool
    notes: tuple[str, ...] = ()


_TOTALS: Final = (
    ("right_total", "right ear, warm and cool together"),
    ("left_total", "left ear, warm and cool together"),
    ("warm_total", "both ears, warm"),
    ("cool_total", "both ears, cool"),
    ("total_spv", "total response"),
)
_MONOTHERMAL: Final = (
    ("monothermal_warm_percent", "warm pair alone", "warm_total"),
    (
        "monothermal_warm_percent_spontaneous_removed",
        "warm pair alone, spontaneous nystagmus taken out",
        "warm_total",
    ),
    ("monothermal_cool_percent", "cool pair alone", "cool_total"),
    (
        "monothermal_cool_percent_spontaneous_removed",
        "cool pair alone, spontaneous nystagmus taken out",
        "cool_total",
    ),
)
_PAIRS: Final = tuple(one for one in _MONOTHERMAL if not one[0].endswith("_removed"))
_FIXATION: Final = (
    ("overall", "fixation index, all cells"),
    ("right_beating", "fixation index, right-beating cells"),
    ("left_beating", "fixation index, left-beating cells"),
    ("right_warm", "fixation index, right ear, warm"),
    ("left_warm", "fixation index, left ear, warm"),
    ("right_cool", "fixation index, right ear, cool"),
    ("left_cool", "fixation index, left ear, cool"),
)
_NO_FIXATION: Final = "undefined: no fixation, or too little speed before it (under 8 deg/s)"
_NO_NYSTAGMUS: Final = "undefined: the spontaneous nystagmus is not known well enough"


def main_rows(indices: Json) -> list[IndexRow]:
    """Weakness and preponderance with their errors, and the total response.

    Where one temperature was given, its pair comes first: it is all that such a visit has.
    """
    rows = [
        _with_errors(indices, "unilateral_weakness", "unilateral weakness"),
        _with_errors(indices, "directional_preponderance", "directional preponderance"),
    ]
    if indices.get("undefined_reason") != "monothermal":
        return [*rows, _total("total_spv", "total response", indices.get("total_spv"))]
    pairs = [_monothermal(indices, *one) for one in _PAIRS]
    return [*(one for one in pairs if one.defined), *rows]


def other_rows(indices: Json) -> list[IndexRow]:
    """Everything else that was computed."""
    rows = [_total(name, label, indices.get(name)) for name, label in _TOTALS[:-1]]
    rows += [
        _percent(indices, "gain_asymmetry_percent", "gain asymmetry", _NO_NYSTAGMUS),
        _percent(
            indices,
            "baseline_shift_percent",
            "part of the preponderance that a constant spontaneous nystagmus explains",
            _NO_NYSTAGMUS,
        ),
        _percent(indices, "temperature_effect_percent", "warm against cool", ""),
    ]
    rows += [_monothermal(indices, *one) for one in _MONOTHERMAL]
    found = indices.get("fixation_index") or {}
    return rows + [_ratio(name, label, found.get(name)) for name, label in _FIXATION]


def _with_errors(indices: Json, name: str, label: str) -> IndexRow:
    index = f"{name}_percent"
    value = indices.get(index)
    if value is None:
        return IndexRow(
            index, label, say("undefined_reason", indices.get("undefined_reason")), False
        )
    notes = []
    interval = retest_interval(value, indices.get(f"{name}_se_retest"))
    if interval is not None:
        notes.append(interval_words(index, *interval))
    notes.append(_error("retest standard error", indices.get(f"{name}_se_retest")))
    notes.append(
        _error("within-response standard error", indices.get(f"{name}_se_within_response"))
    )
    return IndexRow(index, label, percent_words(index, value), True, tuple(notes))


def _error(label: str, value: float | None) -> str:
    if value is None:
        return f"{label}: undefined, not every response has beats"
    return f"{label}: {rounded(value, 1)} points"


def _total(name: str, label: str, value: float | None) -> IndexRow:
    if value is None:
        return IndexRow(name, label, say("undefined_reason", "missing_irrigation"), False)
    return IndexRow(name, label, total_words(value), True)


def _percent(indices: Json, index: str, label: str, reason: str) -> IndexRow:
    value = indices.get(index)
    if value is not None:
        return IndexRow(index, label, percent_words(index, value), True)
    undefined = indices.get("undefined_reason")
    return IndexRow(
        index, label, say("undefined_reason", undefined) if undefined else reason, False
    )


def _monothermal(indices: Json, index: str, label: str, total: str) -> IndexRow:
    value = indices.get(index)
    if value is not None:
        return IndexRow(index, label, percent_words(index, value), True)
    if indices.get(total) is None:
        reason = say("undefined_reason", "missing_irrigation")
    elif index.endswith("_removed") and indices.get(index.removesuffix("_spontaneous_removed")):
        reason = _NO_NYSTAGMUS
    else:
        reason = say("undefined_reason", "sum_not_positive")
    return IndexRow(index, label, reason, False)


def _ratio(name: str, label: str, value: float | None) -> IndexRow:
    index = f"fixation_index_{name}"
    if value is None:
        return IndexRow(index, label, _NO_FIXATION, False)
    return IndexRow(index, label, f"{rounded(value, 2)} of the speed before it was left", True)
