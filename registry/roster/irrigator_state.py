"""Whether an irrigator's readings say "out of use": two readings in a row out of tolerance.

One bad reading may be the reading itself, so it asks for a confirming second. A series is the
readings of one irrigator at one stimulus and set temperature, in order of time.
(Common practice, no source.)
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from registry.models import Irrigator, TemperatureCheck

READINGS_IN_A_ROW: Final = 2
BECAUSE: Final = "two readings in a row out of tolerance"

Series = tuple[str, float]


@dataclass(frozen=True, slots=True)
class Run:
    """The readings out of tolerance that end a series: how many, and when the second was."""

    length: int
    second_at: datetime | None


def refresh_out_of_use(irrigator: Irrigator) -> dict[Series, Run]:
    """Set or clear ``out_of_use_since`` from all readings in force; return each series' run.

    The irrigator's row must be locked by the caller, or two readings at the same moment would
    each see itself as the first.
    """
    runs = trailing_runs(
        TemperatureCheck.objects.filter(
            clinic_id=irrigator.clinic_id, irrigator_id=irrigator.id, withdrawn_at=None
        )
        .order_by("checked_at", "recorded_at", "id")
        .values_list("stimulus", "set_temperature_c", "checked_at", "within_tolerance")
    )
    since = min((run.second_at for run in runs.values() if run.second_at), default=None)
    if irrigator.out_of_use_since != since:
        irrigator.out_of_use_since = since
        irrigator.save(update_fields=["out_of_use_since"])
    return runs


def trailing_runs(readings: Iterable[tuple[str, float, datetime, bool]]) -> dict[Series, Run]:
    """How each series ends; ``readings`` come in order of time."""
    bad: defaultdict[Series, list[datetime]] = defaultdict(list)
    for stimulus, set_temperature, checked_at, within in readings:
        run = bad[stimulus, set_temperature]
        if within:
            run.clear()
        else:
            run.append(checked_at)
    return {
        series: Run(
            len(times), times[READINGS_IN_A_ROW - 1] if len(times) >= READINGS_IN_A_ROW else None
        )
        for series, times in bad.items()
    }
