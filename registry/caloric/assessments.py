"""What the indices of one visit say against its set of criteria."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from registry.caloric.case import Case
from registry.caloric.criteria import Assessment
from registry.caloric.limit import Limit
from registry.caloric.vocabulary import ASSESSMENTS

_RANK: Final = {code: place for place, code in enumerate(ASSESSMENTS)}


def assess(case: Case) -> tuple[Assessment, ...]:
    """Every criterion that is met, or cannot be told, in the order of ``ASSESSMENTS``.

    ``no_criterion_met`` stands where none is met and none is undetermined; a screen is a
    question of its own and stands beside it.
    """
    inverted = case.inverted_cells()
    found = [*_percentages(case, inverted), *_fixation(case), *_large(case)]
    if not inverted and not case.an_inversion_is_certain():
        # A total of responses that partly beat backwards says nothing about how weak they are.
        found += _weak_totals(case)
    if not found:
        found.append(Assessment("no_criterion_met"))
    return tuple(sorted([*found, *_warm_screen(case)], key=lambda one: _RANK[one.code]))


def undetermined_reason(case: Case, inverted: frozenset[str]) -> str | None:
    """Why weakness and preponderance cannot be judged in this visit; ``None``: they can."""
    if case.indices.undefined_reason is not None:
        return case.indices.undefined_reason
    if inverted or case.an_inversion_is_certain():
        return "inverted_response"
    if _ears_differ(case, "set_temperature_c"):
        return "unequal_set_temperature"
    if _ears_differ(case, "medium"):
        return "mixed_medium"
    if case.a_negative_is_possible():
        return "directions_unknown"
    return "unsteady_percentages" if _too_unsteady(case) else None


def _percentages(case: Case, inverted: frozenset[str]) -> Iterator[Assessment]:
    indices, reason = case.indices, undetermined_reason(case, inverted)
    two = (
        ("unilateral_weakness", indices.unilateral_weakness_percent),
        ("directional_preponderance", indices.directional_preponderance_percent),
    )
    for code, percent in two:
        limit = case.criteria.limit(code)
        if reason is not None:
            yield _made("undetermined", limit, percent, reason)
        elif percent is not None and limit.is_exceeded_by(abs(percent)):
            yield _made(code, limit, percent)
    gain, limit = indices.gain_asymmetry_percent, case.criteria.limit("gain_asymmetry")
    if reason is None and gain is not None and limit.is_exceeded_by(abs(gain)):
        yield _made("gain_asymmetry", limit, gain)


def _ears_differ(case: Case, field: str) -> bool:
    """True where one temperature was given to the two ears differently."""
    for stimulus in ("warm", "cool"):
        right, left = case.counted.get(f"right_{stimulus}"), case.counted.get(f"left_{stimulus}")
        if right is None or left is None:
            continue
        if field == "medium":
            if case.medium(right) != case.medium(left):
                return True
        elif _temperatures_differ(right.set_temperature_c, left.set_temperature_c):
            return True
    return False


def _temperatures_differ(one: float | None, other: float | None) -> bool:
    return one is not None and other is not None and abs(one - other) > 1e-9


def _too_unsteady(case: Case) -> bool:
    """Total too low for percentages, unless the ears differ by enough in deg/s."""
    indices = case.indices
    if indices.total_spv is None or indices.right_total is None or indices.left_total is None:
        return False
    apart = abs(indices.right_total - indices.left_total)
    return case.criteria.limit("percentages_undetermined").is_above(
        indices.total_spv
    ) and not case.criteria.limit("ear_totals_differ").is_exceeded_by(apart)


def _weak_totals(case: Case) -> Iterator[Assessment]:
    indices, limit_of = case.indices, case.criteria.limit
    total = indices.total_spv
    # The size of a total is what is weak or not: labels exchanged throughout give four strong
    # negative responses, which are no loss of function.
    if total is not None and limit_of("low_total_response").is_above(abs(total)):
        yield _made("low_total_response", limit_of("low_total_response"), total)
    ears = [abs(ear) for ear in (indices.right_total, indices.left_total) if ear is not None]
    if ears and limit_of("low_ear_total").is_above(min(ears)):
        yield _made("low_ear_total", limit_of("low_ear_total"), min(ears))
    if len(ears) < 2:
        return
    if limit_of("both_ear_totals_below_6").is_above(max(ears)):
        yield _made("both_ear_totals_below_6", limit_of("both_ear_totals_below_6"), max(ears))
    if (
        limit_of("age_60_up").is_exceeded_by(case.visit.age_years)
        and limit_of("both_ear_totals_above_6").is_exceeded_by(min(ears))
        and limit_of("both_ear_totals_below_25").is_above(max(ears))
    ):
        yield _made(
            "both_ear_totals_6_to_25_age_60_up", limit_of("both_ear_totals_below_25"), max(ears)
        )


def _large(case: Case) -> Iterator[Assessment]:
    limit = case.criteria.limit("large_response")
    totals = (case.indices.right_total, case.indices.left_total)
    largest = max((ear for ear in totals if ear is not None), default=None)
    if largest is not None and limit.is_exceeded_by(largest):
        yield _made("large_response", limit, largest)


def _fixation(case: Case) -> Iterator[Assessment]:
    limit = case.criteria.limit("fixation_index_above_limit")
    overall = case.indices.fixation_index_overall
    if overall is not None and limit.is_exceeded_by(overall):
        yield _made("fixation_index_above_limit", limit, overall)


def _warm_screen(case: Case) -> Iterator[Assessment]:
    """Only of a visit that was planned as a warm screen, or ended as one."""
    visit = case.visit
    is_screen = (
        visit.protocol_planned == "monothermal_warm"
        or case.protocol_done == "monothermal_warm"
        or visit.incomplete_reason == "screen_met"
    )
    warm = [case.counted.get(cell) for cell in ("right_warm", "left_warm")]
    peaks = [one.peak_spv for one in warm if one is not None and one.peak_spv is not None]
    if not is_screen or len(peaks) < 2:
        return
    asymmetry = case.indices.monothermal_warm_percent
    failed = _failed_screen_part(case, min(peaks), asymmetry)
    yield _made(
        "warm_screen_criteria_not_met" if failed else "warm_screen_criteria_met",
        case.criteria.limit("warm_screen_asymmetry"),
        asymmetry,
        failed,
    )


def _failed_screen_part(case: Case, weaker: float, asymmetry: float | None) -> str | None:
    """First part that is not met; what was not recorded is not met."""
    limit_of, spontaneous = case.criteria.limit, case.visit.spontaneous
    if asymmetry is None or not limit_of("warm_screen_asymmetry").is_above(abs(asymmetry)):
        return "warm_screen_asymmetry"
    if not limit_of("warm_screen_response").is_exceeded_by(weaker):
        return "warm_screen_response"
    if spontaneous is None or spontaneous.spv is None:
        return "spontaneous_not_recorded"
    if not limit_of("warm_screen_spontaneous").is_above(abs(spontaneous.spv)):
        return "warm_screen_spontaneous"
    if any(case.drum(ear) != "clear" for ear in ("right", "left")):
        return "otoscopy_not_clear"
    return None


def _made(code: str, limit: Limit, value: float | None, reason: str | None = None) -> Assessment:
    return Assessment(
        code=code,
        criterion=limit.code,
        limit=limit.value,
        value=value,
        source=limit.source,
        inclusive=limit.inclusive,
        reason=reason,
    )
