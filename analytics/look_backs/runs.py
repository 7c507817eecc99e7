"""Stretches of time in which an irrigator's temperature cannot be vouched for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from uuid import UUID

from registry.models import TemperatureCheck


@dataclass(frozen=True, slots=True)
class Run:
    """Checks out of tolerance in a row: from the last good one before to the next good one after.

    ``check_id`` is the first of them; ``deviation_c`` the largest of them, signed.
    """

    check_id: UUID
    irrigator_id: UUID
    stimulus: str
    set_temperature_c: float
    deviation_c: float
    tolerance_c: float
    last_good_at: datetime | None
    checked_at: datetime
    until_at: datetime | None


def failed_runs(checks: Iterable[TemperatureCheck]) -> list[Run]:
    """The runs of a clinic's checks in force, whatever their order.

    A check covers only its own irrigator, stimulus and set temperature. A reading as left ends a
    run as a good one does: it was taken after the adjustment.
    """
    ordered = sorted(checks, key=lambda one: (*_series(one), one.checked_at, str(one.id)))
    return [run for _, series in groupby(ordered, key=_series) for run in _runs(list(series))]


def _series(check: TemperatureCheck) -> tuple[str, str, float]:
    return (str(check.irrigator_id), check.stimulus, check.set_temperature_c)


def _runs(series: list[TemperatureCheck]) -> Iterator[Run]:
    last_good: datetime | None = None
    bad: list[TemperatureCheck] = []
    for check in series:
        if check.within_tolerance:
            if bad:
                yield _run(bad, last_good, check.checked_at)
                bad = []
            last_good = check.checked_at
        else:
            bad.append(check)
    if bad:
        yield _run(bad, last_good, None)


def _run(bad: list[TemperatureCheck], last_good: datetime | None, until: datetime | None) -> Run:
    first = bad[0]
    deviations = [check.reading_c - check.set_temperature_c for check in bad]
    return Run(
        check_id=first.id,
        irrigator_id=first.irrigator_id,
        stimulus=first.stimulus,
        set_temperature_c=first.set_temperature_c,
        deviation_c=max(deviations, key=abs),
        tolerance_c=first.tolerance_c,
        last_good_at=last_good,
        checked_at=first.checked_at,
        until_at=until,
    )
