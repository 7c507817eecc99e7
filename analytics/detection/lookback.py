"""After a temperature check out of tolerance: which earlier results might have read otherwise?

The peak of a response is about proportional to the distance of the delivered temperature from
the body's (derived, no source): with an error e the set temperature T gave T + e, so the peak at
T would have been peak x (T - 37) / (T + e - 37). Since the last good check the error may have
been anything from the tolerance on the other side to that of the failed reading, in both ears or,
while the irrigator warmed up, in one. Each visit is assessed again at the ends of that range by
the registry's own computation. Nothing is corrected: it says what could change.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from registry.caloric.compute import Computed, Job, compute_visits
from registry.caloric.criteria import Assessment
from registry.caloric.responses import right_beating_sign
from registry.caloric.spontaneous import handling, recorded_spontaneous
from registry.caloric.visit import Irrigation, Visit

BODY_C: Final = 37.0
# Nearer to the body's temperature than this there is no caloric test to scale (common practice).
NEAREST_TO_BODY_C: Final = 2.0
BOTH_EARS: Final = ("right", "left")
# Which ears took the error; both first, so that the first scenario is the failed reading itself.
_EARS: Final = (BOTH_EARS, ("right",), ("left",))
# Assessments that say nothing is met, or that nothing can be told.
_NOT_MET: Final = ("no_criterion_met", "undetermined")


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """The irrigator and stimulus whose check failed.

    ``error_c``: the failed reading minus the set temperature; ``tolerance_c``: the largest
    deviation a good check allows; ``set_temperature_c`` stands in where an irrigation names none.
    """

    irrigator: str
    stimulus: str
    error_c: float
    tolerance_c: float = 0.5
    set_temperature_c: float | None = None

    def errors_c(self) -> tuple[float, ...]:
        """The failed reading's error, and the worst on the other side since the good check."""
        worst = max(abs(self.error_c), self.tolerance_c)
        own = worst if self.error_c > 0 else -worst
        other = -self.tolerance_c if self.error_c > 0 else self.tolerance_c
        return tuple(dict.fromkeys((self.error_c, own, other)))


@dataclass(frozen=True, slots=True)
class Scenario:
    """What a visit would have said, had the irrigator been ``error_c`` off in these ears.

    ``met`` and ``undetermined`` are codes of criteria; both percentages as the registry signs
    them, ``None`` undefined.
    """

    error_c: float
    ears: tuple[str, ...]
    met: tuple[str, ...]
    undetermined: tuple[str, ...]
    weakness_percent: float | None
    preponderance_percent: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LookedBack:
    """One visit as sent, and what it could have been.

    ``irrigations`` are the names of those affected. ``could_be_met`` are criteria that were not
    met and are in some scenario, ``could_fall_away`` the other way round, ``could_be_undetermined``
    those that could no longer be told, or now could. The percentages' ranges, (lowest, highest),
    hold the figure as sent; ``None`` where it is never defined. Without scenarios ``reason`` says
    why: ``not_affected``, ``set_temperature_unknown`` or ``too_near_the_body``.
    """

    visit_ref: str
    irrigations: tuple[str, ...]
    as_sent: Scenario
    scenarios: tuple[Scenario, ...]
    could_be_met: tuple[str, ...] = ()
    could_fall_away: tuple[str, ...] = ()
    could_be_undetermined: tuple[str, ...] = ()
    weakness_range: tuple[float, float] | None = None
    preponderance_range: tuple[float, float] | None = None
    reason: str | None = None

    @property
    def at_worst(self) -> tuple[str, ...]:
        """Criteria met in any scenario, the one as sent not among them unless none was tried."""
        tried = self.scenarios or (self.as_sent,)
        return _sorted({code for case in tried for code in case.met})

    @property
    def changed(self) -> tuple[str, ...]:
        """Criteria that could be answered otherwise, whichever way."""
        return _sorted({*self.could_be_met, *self.could_fall_away, *self.could_be_undetermined})


def look_back(jobs: Sequence[Job], suspect: Suspect) -> list[LookedBack]:
    """Each visit as sent and at the ends of the range of errors, in order.

    Raises ``ValueError`` where the error or the tolerance is not a number above what makes sense
    (a tolerance not above 0, an error that is not finite).
    """
    if not suspect.tolerance_c > 0 or not abs(suspect.error_c) < float("inf"):
        raise ValueError(f"not an error and a tolerance: {suspect.error_c}, {suspect.tolerance_c}")
    sent = compute_visits(jobs)
    plans = [_plan(one, suspect) for one in sent]
    again = iter(
        compute_visits(
            [
                _changed(job, one, plan, error, ears)
                for job, one, plan in zip(jobs, sent, plans, strict=True)
                for error, ears in plan.scenarios
            ]
        )
    )
    return [
        _compared(one, plan, [(*case, next(again)) for case in plan.scenarios])
        for one, plan in zip(sent, plans, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class _Plan:
    """Irrigations affected with the set temperature of each, and what to try on them."""

    set_temperatures: dict[str, float]
    scenarios: tuple[tuple[float, tuple[str, ...]], ...]
    reason: str | None


def _plan(one: Computed, suspect: Suspect) -> _Plan:
    affected = [x for x in one.visit.irrigations if _is_affected(one.visit, x, suspect)]
    known = {x.name: _set_temperature(x, suspect) for x in affected}
    found = {name: value for name, value in known.items() if value is not None}
    reason = _reason(known, found, suspect)
    if reason is not None:
        return _Plan(dict.fromkeys(known, 0.0), (), reason)
    ears = {x.ear for x in affected}
    tried = tuple(
        (error, side)
        for error in suspect.errors_c()
        for side in _EARS
        if ears >= set(side) or (side == BOTH_EARS and len(ears) == 1)
    )
    # With one ear alone, "both" and that ear are the same.
    return _Plan(found, tuple(x for x in tried if len(ears) == 2 or x[1] == BOTH_EARS), None)


def _is_affected(visit: Visit, one: Irrigation, suspect: Suspect) -> bool:
    return (one.irrigator or visit.irrigator) == suspect.irrigator and (
        one.stimulus == suspect.stimulus and one.peak_spv is not None
    )


def _set_temperature(one: Irrigation, suspect: Suspect) -> float | None:
    return suspect.set_temperature_c if one.set_temperature_c is None else one.set_temperature_c


def _reason(
    known: dict[str, float | None], found: dict[str, float], suspect: Suspect
) -> str | None:
    if not known:
        return "not_affected"
    if len(found) < len(known):
        return "set_temperature_unknown"
    for set_c in found.values():
        side = 1.0 if set_c > BODY_C else -1.0
        if min(side * (set_c + e - BODY_C) for e in (0.0, *suspect.errors_c())) < NEAREST_TO_BODY_C:
            return "too_near_the_body"
    return None


def _changed(job: Job, one: Computed, plan: _Plan, error: float, ears: tuple[str, ...]) -> Job:
    """The job with the affected responses as they would have been at the set temperature."""
    irrigations = tuple(
        _scaled(one.visit, x, plan.set_temperatures[x.name], error)
        if x.name in plan.set_temperatures and x.ear in ears
        else _without_beats(x)
        for x in one.visit.irrigations
    )
    return replace(
        job,
        visit=replace(one.visit, irrigations=irrigations),
        directions_known=one.directions_known,
        checks=None,
    )


def _scaled(visit: Visit, one: Irrigation, set_c: float, error: float) -> Irrigation:
    factor = (set_c - BODY_C) / (set_c + error - BODY_C)
    # A spontaneous nystagmus still in the peak owes nothing to the stimulus and stays as it is.
    within = recorded_spontaneous(visit) if handling(visit) == "not_removed" else None
    level = 0.0 if within is None else right_beating_sign(one) * within
    return replace(
        _without_beats(one),
        peak_spv=None if one.peak_spv is None else level + (one.peak_spv - level) * factor,
        # Both speeds of a fixation index go with the response they were read from.
        pre_fixation_spv=None if one.pre_fixation_spv is None else one.pre_fixation_spv * factor,
        fixation_spv=None if one.fixation_spv is None else one.fixation_spv * factor,
    )


def _without_beats(one: Irrigation) -> Irrigation:
    # The peak is taken from them already; finding it again for every scenario is the slow part.
    return one if one.peak_spv is None else replace(one, beats=None)


def _compared(
    one: Computed, plan: _Plan, tried: list[tuple[float, tuple[str, ...], Computed]]
) -> LookedBack:
    as_sent = _scenario(0.0, (), one)
    scenarios = tuple(_scenario(*case) for case in tried)
    met, open_ = set(as_sent.met), set(as_sent.undetermined)
    told = [set(case.undetermined) ^ open_ for case in scenarios]
    unsure = set[str]().union(*told)
    return LookedBack(
        visit_ref=one.visit.visit_ref,
        irrigations=tuple(plan.set_temperatures),
        as_sent=as_sent,
        scenarios=scenarios,
        could_be_met=_sorted(code for case in scenarios for code in set(case.met) - met),
        could_fall_away=_sorted(code for case in scenarios for code in met - set(case.met)),
        could_be_undetermined=_sorted(unsure),
        weakness_range=_range([case.weakness_percent for case in (as_sent, *scenarios)]),
        preponderance_range=_range([case.preponderance_percent for case in (as_sent, *scenarios)]),
        reason=plan.reason,
    )


def _scenario(error: float, ears: tuple[str, ...], one: Computed) -> Scenario:
    return Scenario(
        error_c=error,
        ears=ears,
        met=_sorted(x.code for x in one.assessments if x.code not in _NOT_MET),
        undetermined=_sorted(_undetermined(one.assessments)),
        weakness_percent=one.indices.unilateral_weakness_percent,
        preponderance_percent=one.indices.directional_preponderance_percent,
    )


def _undetermined(assessments: Sequence[Assessment]) -> Iterator[str]:
    return (x.criterion for x in assessments if x.code == "undetermined" and x.criterion)


def _sorted(codes: Iterator[str] | set[str]) -> tuple[str, ...]:
    return tuple(sorted(set(codes)))


def _range(values: Sequence[float | None]) -> tuple[float, float] | None:
    known = [value for value in values if value is not None]
    return (min(known), max(known)) if known else None
