"""The sentences under figures: what is seen, on how many visits, against what."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from analytics.dashboards.figures.parts import many, said
from analytics.dashboards.figures.scale import Scale, occasions
from analytics.dashboards.limits import Year
from analytics.statistics.adjustment import Adjustment

NO_OTHERS: Final = "Fewer than three other clinics have data on this, so no comparison is shown."
_BECAUSE: Final = {
    "significant": "units differ by more than chance",
    "not_significant": "units do not differ by more than chance",
    "few_units": "too few units to tell",
    "only_a_few_differ": "only a few units differ",
    "not_measured": "not measured",
    "asked_for": "asked for",
}


def funnel_says(year: Year, scale: Scale, outside: Sequence[int]) -> str:
    """Counts outside the lines beside what chance alone gives; ``outside`` of the dots shown."""
    if not outside:
        return f"No {year.kind} has enough {occasions(year.measure)} yet." + _left_out(year)
    found = year.funnel
    return (
        f"Of {many(len(outside), year.kind)}, {sum(one > 0 for one in outside)} lie outside the"
        f" 95 % lines and {sum(one > 1 for one in outside)} outside the 99.8 % lines; if none"
        f" differed, about {found.chance_inner:.1f} and {found.chance_outer:.1f} would by chance."
        f" On {round(year.n[year.shown].sum()):,} {occasions(year.measure)}{_centre(year, scale)}."
        + _left_out(year)
    )


def funnel_footer(year: Year, *, given: bool) -> str:
    """Target, number of testers, over-dispersion, constants and sources."""
    found = year.funnel.overdispersion
    adjusted = year.funnel.adjustment is not Adjustment.NONE
    how = f"widened by the variance between {year.kind}s" if adjusted else "not widened"
    origin = "of the last evaluation" if given else f"of these {year.kind}s together"
    return (
        f"{int(year.shown.sum())} {year.kind}s; centre {origin}; lines at 1.960 and 3.090 standard"
        f" deviations, {how} ({_BECAUSE[year.funnel.because.value]}); phi {_number(found.phi)},"
        f" tau {_number(_root(found.tau2))}. Twelve complete months, like with like: less what"
        " age, sex, the order of ears, medium and way of reading add. Spiegelhalter, Stat Med"
        " 2005;24:1185-1202; Qual Saf Health Care 2005;14:347-351."
    )


def subject_says(year: Year, at: int, scale: Scale, compared: dict[str, Any] | None) -> str:
    """One subject's year beside the network; ``compared`` None: no comparison may be shown."""
    unit = occasions(year.measure)
    if not year.n[at]:
        return f"No {unit} in the last twelve months."
    if not year.shown[at]:
        few = f"Too few {unit} in the last twelve months for a figure."
        return few + _smallest(scale, compared)
    own = said(scale.one(float(year.value[at])), scale.decimals, scale.unit)
    seen = f"{own} over {round(year.n[at]):,} {unit} in twelve months"
    if compared is None:
        return f"{seen}. {NO_OTHERS}"
    others = many(int(year.shown.sum()), year.kind)
    differs = _differs(outside_of(year)[at], scale, compared)
    return f"{seen}{_centre(year, scale)} ({others}). {differs}"


def _centre(year: Year, scale: Scale) -> str:
    """The centre in words; a ratio is already said against it."""
    if scale.shown_as == "ratio":
        return ""
    return f"; centre {said(scale.one(year.centre), scale.decimals, scale.unit)}"


def outside_of(year: Year) -> list[int]:
    """0 between the lines, 1 outside the 95 % lines, 2 outside the 99.8 % lines."""
    inner, outer = np.abs(year.funnel.outside_inner), np.abs(year.funnel.outside_outer)
    return [int(one) for one in np.maximum(inner, 2 * outer)]


def _differs(outside: int, scale: Scale, compared: dict[str, Any]) -> str:
    if outside == 2:
        return "It differs: it lies outside the 99.8 % lines."
    if outside == 1:
        return "It lies outside the 95 % lines, where one in twenty lies by chance."
    return "It does not differ by more than chance gives." + _smallest(scale, compared)


def _smallest(scale: Scale, compared: dict[str, Any] | None) -> str:
    """How small a difference these visits could have shown."""
    shown = scale.difference((compared or {}).get("smallest_level"))
    if shown is None:
        return ""
    least = said(abs(shown), scale.decimals, scale.unit.split(" ")[0])
    return f" A difference of {least} could have been seen with a chance of 80 %."


def _left_out(year: Year) -> str:
    if not year.too_few:
        return ""
    return f" {many(year.too_few, year.kind)} with too few visits left out."


def _root(value: float | None) -> float | None:
    return None if value is None else value**0.5


def _number(value: float | None) -> str:
    return "not measured" if value is None else f"{value:.3g}"
