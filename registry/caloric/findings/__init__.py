"""How the test was done and entered: one function a finding, the safety finding first.

A finding is for the reader of one visit; it is no judgement of the person who irrigated.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Final

from registry.caloric.case import Case
from registry.caloric.findings import (
    attempts,
    delivery,
    direction,
    figures,
    odd,
    temperature,
)
from registry.caloric.findings.finding import Finding

__all__ = ["FINDERS", "Finding", "find_all"]

Finder = Callable[[Case], Iterator[Finding]]

# In the order of vocabulary.FINDINGS, which is the order a reader meets them in.
FINDERS: Final[Mapping[str, Finder]] = {
    finder.__name__: finder
    for finder in (
        delivery.open_water_with_open_drum,
        temperature.temperature_out_of_tolerance,
        temperature.no_current_temperature_check,
        temperature.after_failed_check,
        temperature.before_failed_check,
        temperature.unequal_set_temperature,
        delivery.mixed_medium,
        delivery.short_rest,
        delivery.duration_out_of_tolerance,
        direction.inverted_response,
        direction.opposite_to_expected_cause_unknown,
        direction.labels_possibly_exchanged,
        direction.spontaneous_sign_suspect,
        figures.reported_value_differs,
        figures.peak_differs_from_beats,
        odd.single_odd_response,
        attempts.counted_attempt_not_last,
        attempts.repeat_without_reason,
        direction.vertical_component_present,
        attempts.incomplete,
        figures.unsteady_percentages,
    )
}


def find_all(case: Case) -> tuple[Finding, ...]:
    """Every finding of a visit, in the order of ``FINDERS``."""
    return tuple(found for finder in FINDERS.values() for found in finder(case))
