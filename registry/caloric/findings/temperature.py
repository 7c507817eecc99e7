"""Was the stimulus as warm or cool as it should be, and who says so?"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, datetime

from registry.caloric.case import Case
from registry.caloric.equipment import TemperatureReading
from registry.caloric.findings.finding import Finding
from registry.caloric.visit import Irrigation

_TOLERANCE = 1e-9


def temperature_out_of_tolerance(case: Case) -> Iterator[Finding]:
    """Measured more than 0.5 Cel from the set value (from memory; 0.4 is quoted too).

    ``value`` is measured minus set.
    """
    limit = case.procedure.temperature_tolerance_c
    for one in case.visit.irrigations:
        if not one.usable or one.set_temperature_c is None or one.measured_temperature_c is None:
            continue
        off = one.measured_temperature_c - one.set_temperature_c
        if abs(off) > limit + _TOLERANCE:
            yield Finding("temperature_out_of_tolerance", one.name, None, off, limit)


def no_current_temperature_check(case: Case) -> Iterator[Finding]:
    """No check of this stimulus and set temperature within 7 days before (common practice).

    Days are counted from local date to local date, so that a valid time of 0 days means the same
    day. ``value`` is the age in days of the last check, ``None`` where there is none.
    """
    limit = case.procedure.temperature_check_valid_days
    for one in _covered(case):
        last = _last_before(case, one)
        age = None if last is None else (_date(case, one) - _checked_on(case, last)).days
        if age is None or age > limit:
            yield Finding("no_current_temperature_check", one.name, None, age, limit)


def after_failed_check(case: Case) -> Iterator[Finding]:
    """The last check before the irrigation was out of tolerance (common practice)."""
    yield from _failed(case, "after_failed_check", _last_before)


def before_failed_check(case: Case) -> Iterator[Finding]:
    """The next check after the irrigation was out of tolerance (common practice)."""
    yield from _failed(case, "before_failed_check", _next_after)


def unequal_set_temperature(case: Case) -> Iterator[Finding]:
    """The two ears were given one stimulus at different set temperatures.

    ``value`` is right minus left in Cel, ``detail`` the stimulus.
    """
    for stimulus in ("warm", "cool"):
        right, left = case.counted.get(f"right_{stimulus}"), case.counted.get(f"left_{stimulus}")
        if right is None or left is None:
            continue
        if right.set_temperature_c is None or left.set_temperature_c is None:
            continue
        apart = right.set_temperature_c - left.set_temperature_c
        if abs(apart) > _TOLERANCE:
            yield Finding("unequal_set_temperature", None, stimulus, apart, 0.0)


def _covered(case: Case) -> Iterator[Irrigation]:
    """Irrigations that a check could cover. Ice has no set temperature to check."""
    if case.checks is None:
        return
    for one in case.visit.irrigations:
        if one.usable and one.stimulus != "ice" and one.set_temperature_c is not None:
            yield one


def _failed(
    case: Case, code: str, find: Callable[[Case, Irrigation], TemperatureReading | None]
) -> Iterator[Finding]:
    for one in _covered(case):
        check = find(case, one)
        if check is not None and not check.within_tolerance:
            days = abs((_checked_on(case, check) - _date(case, one)).days)
            yield Finding(code, one.name, None, days)


def _last_before(case: Case, one: Irrigation) -> TemperatureReading | None:
    # Of two readings at one time the later sent stands: as left, after as found.
    before = [check for check in _matching(case, one) if not _is_after(case, check, one)]
    return sorted(before, key=_checked_at)[-1] if before else None


def _next_after(case: Case, one: Irrigation) -> TemperatureReading | None:
    after = [check for check in _matching(case, one) if _is_after(case, check, one)]
    return min(after, key=_checked_at) if after else None


def _matching(case: Case, one: Irrigation) -> Iterator[TemperatureReading]:
    irrigator = one.irrigator or case.visit.irrigator
    for check in case.checks or ():
        if (
            check.irrigator == irrigator
            and check.stimulus == one.stimulus
            and one.set_temperature_c is not None
            and abs(check.set_temperature_c - one.set_temperature_c) <= _TOLERANCE
        ):
            yield check


def _is_after(case: Case, check: TemperatureReading, one: Irrigation) -> bool:
    """Later than the irrigation; where its time is unknown, on a later local date."""
    if one.started_at is not None:
        return check.checked_at > one.started_at
    return _checked_on(case, check) > case.visit.visit_date


def _date(case: Case, one: Irrigation) -> date:
    if one.started_at is None:
        return case.visit.visit_date
    return one.started_at.astimezone(case.tz).date()


def _checked_on(case: Case, check: TemperatureReading) -> date:
    return check.checked_at.astimezone(case.tz).date()


def _checked_at(check: TemperatureReading) -> datetime:
    return check.checked_at
