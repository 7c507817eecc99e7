"""One response of four that stands out, and would be worth repeating."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Final

from registry.caloric.case import Case
from registry.caloric.findings.finding import Finding
from registry.caloric.spontaneous import recorded_spontaneous, responses_without
from registry.caloric.vocabulary import CELLS

# Tuned by simulation: what stands out is 1.8 times off, and no other nearly as far.
_FACTOR: Final = 1.8
_NEXT_AT_MOST: Final = 0.7
_TOLERANCE = 1e-9


def single_odd_response(case: Case) -> Iterator[Finding]:
    """One response explains why weakness or preponderance is beyond its limit (derived).

    Four cells have four log effects, so no three predict the fourth: a rule of judgement. All
    four are positive without the spontaneous nystagmus, one lies furthest from the geometric
    mean of the other three (corrected for the usual warm/cool ratio), by a factor of at least
    1.8, the next at most 0.7 of that on the log scale, and with that mean in its place both
    percentages are within limits. ``value`` is the factor, observed over expected.
    """
    responses = _positive_responses(case)
    indices = case.indices
    if responses is None or not _beyond(
        case, indices.unilateral_weakness_percent, indices.directional_preponderance_percent
    ):
        return
    off = _log_distances(responses, case.procedure.usual_warm_cool_log_half)
    odd, following = sorted(off, key=lambda cell: -abs(off[cell]))[:2]
    if abs(off[odd]) < math.log(_FACTOR) - _TOLERANCE:
        return
    if abs(off[following]) > _NEXT_AT_MOST * abs(off[odd]) + _TOLERANCE:
        return
    replaced = {**responses, odd: responses[odd] / math.exp(off[odd])}
    if not _beyond(case, *_percentages(replaced, recorded_spontaneous(case.visit) or 0.0)):
        name = case.counted[odd].name
        yield Finding("single_odd_response", name, None, math.exp(off[odd]), _FACTOR)


def _positive_responses(case: Case) -> dict[str, float] | None:
    """The four without the spontaneous nystagmus; ``None`` unless all are known and above 0."""
    found = {}
    for cell in CELLS:
        irrigation = case.counted.get(cell)
        without = responses_without(case.visit, irrigation) if irrigation else ()
        if len(without) != 1 or without[0] <= _TOLERANCE:
            return None
        found[cell] = without[0]
    return found


def _log_distances(responses: Mapping[str, float], half: float) -> dict[str, float]:
    """ln(observed / geometric mean of the other three), each brought to the cell's own stimulus."""
    level = {
        cell: math.log(value) - (half if cell.endswith("warm") else -half)
        for cell, value in responses.items()
    }
    total = sum(level.values())
    return {cell: own - (total - own) / 3 for cell, own in level.items()}


def _percentages(responses: Mapping[str, float], spontaneous: float) -> tuple[float, float]:
    """Weakness and raw preponderance, the nystagmus being put back into the second."""
    right = responses["right_warm"] + responses["right_cool"]
    to_right = responses["right_warm"] + responses["left_cool"] + 2 * spontaneous
    total = sum(responses.values())
    return 100.0 * (2 * right - total) / total, 100.0 * (2 * to_right - total) / total


def _beyond(case: Case, weakness: float | None, preponderance: float | None) -> bool:
    if weakness is None or preponderance is None:
        return False
    limit_of = case.criteria.limit
    return limit_of("unilateral_weakness").is_exceeded_by(abs(weakness)) or limit_of(
        "directional_preponderance"
    ).is_exceeded_by(abs(preponderance))
