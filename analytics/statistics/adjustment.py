"""Whether limits are widened for over-dispersion, by which way, and why."""

from __future__ import annotations

from enum import StrEnum
from typing import Final

from analytics.statistics.overdispersion import Overdispersion

# Fewer cannot be told from a few units that really differ (common practice, no source).
FEWEST_UNITS: Final = 10
SIGNIFICANT: Final = 0.05


class Adjustment(StrEnum):
    """What was done about over-dispersion."""

    NONE = "none"
    MULTIPLICATIVE = "multiplicative"
    ADDITIVE = "additive"


class Because(StrEnum):
    """Why that was done."""

    ASKED_FOR = "asked_for"
    SIGNIFICANT = "significant"
    NOT_SIGNIFICANT = "not_significant"
    FEW_UNITS = "few_units"
    # Significant through a few far-off units alone: winsorised, the others agree.
    ONLY_A_FEW_DIFFER = "only_a_few_differ"
    # Not measured: fewer than two units, or no events at all.
    NOT_MEASURED = "not_measured"


def choose_adjustment(
    found: Overdispersion, asked_for: Adjustment | None = None
) -> tuple[Adjustment, Because]:
    """Additive for ten units or more that differ significantly (p < 0.05), else none.

    What is asked for is done wherever over-dispersion was measured.
    """
    if found.p_value is None or found.tau2 is None:
        return Adjustment.NONE, Because.NOT_MEASURED
    if asked_for is not None:
        return asked_for, Because.ASKED_FOR
    if found.units < FEWEST_UNITS:
        return Adjustment.NONE, Because.FEW_UNITS
    if found.p_value >= SIGNIFICANT:
        return Adjustment.NONE, Because.NOT_SIGNIFICANT
    if found.tau2 == 0:
        return Adjustment.NONE, Because.ONLY_A_FEW_DIFFER
    return Adjustment.ADDITIVE, Because.SIGNIFICANT
