"""Visits of an invented network as the facts that the measures read, by the real formulas."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from analytics.measures.facts import Facts
from analytics.simulation.habits import Habits
from analytics.simulation.patients import Responses, Ways, as_recorded, draw_responses, first_cell
from analytics.simulation.world import World
from registry.caloric.formulas import HANDLING_NOT_REMOVED, Peaks, percentages

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# The default criteria (registry.caloric.default_limits): beyond 25 %, beyond 30 %, under 22.
WEAKNESS_LIMIT: Final = 25.0
PREPONDERANCE_LIMIT: Final = 30.0
LOW_TOTAL: Final = 22.0
INVERTED_BELOW: Final = -2.0
DIGITS_FROM: Final = 5.0
WARM_FIRST: Final = 0.85
FIXATION: Final = (0.46, 0.10)
UPLOAD: Final = (1.1, 0.8)


@dataclass(frozen=True, slots=True)
class Visits:
    """Whose and when, as places, and the facts, in one order."""

    tester: Ints
    month: Ints
    facts: Facts


def draw_visits(rng: np.random.Generator, world: World, habits: Habits) -> Visits:
    """As many visits a tester and month as the rate makes likely (Poisson)."""
    shape = (world.testers, world.months)
    number = rng.poisson(np.broadcast_to(habits.rate[:, None], shape))
    place = np.repeat(np.arange(number.size), number.ravel())
    tester, month = place // world.months, place % world.months
    ways = _ways(rng, world, habits, tester, month)
    facts = Facts.empty(len(place))
    answered = draw_responses(rng, ways, first_stronger_share=world.first_stronger_share)
    peaks = _rounded(rng, world, habits, as_recorded(answered), tester, month)
    _habits_facts(rng, world, habits, facts, tester, month)
    _result_facts(facts, peaks, answered.spontaneous, facts["incomplete"] == 1.0)
    _first_excess(facts, answered, ways)
    _digit_facts(world, habits, facts, peaks, tester)
    facts["first_ear_right"] = ways.right_first
    return Visits(tester, month, Facts(**facts))


def _ways(
    rng: np.random.Generator, world: World, habits: Habits, tester: Ints, month: Ints
) -> Ways:
    """The tester's habits of the month, and what the irrigator at hand adds."""
    count, of = len(tester), (tester, month)
    irrigator = _irrigator(rng, world, habits.clinic[tester])
    strength = rng.normal(0.0, world.irrigator_level, world.irrigators)[irrigator]
    balance = rng.normal(0.0, world.irrigator_warm_cool, world.irrigators)[irrigator]
    return Ways(
        balance=habits.balance[of],
        direction=habits.direction[of],
        level=habits.level[of] + strength,
        warm_cool=habits.warm_cool[of] + balance,
        noise=habits.noise[of],
        ear_noise=habits.ear_noise[of],
        weak=habits.weak[of],
        right_first=(rng.random(count) < habits.right_first[of]).astype(np.float64),
        warm_first=(rng.random(count) < WARM_FIRST).astype(np.float64),
    )


def _irrigator(rng: np.random.Generator, world: World, clinic: Ints) -> Ints:
    """One for each clinic, and a second for the first few, used every other time."""
    second = world.clinics + clinic
    has_second = second < world.irrigators
    return np.where(has_second & (rng.random(len(clinic)) < 0.5), second, clinic)


def _rounded(
    rng: np.random.Generator,
    world: World,
    habits: Habits,
    peaks: Peaks,
    tester: Ints,
    month: Ints,
) -> Peaks:
    """To a tenth by the device (whole numbers by some devices), and by hand as the habit is."""
    of = (tester, month)
    coarse = _whole_number_clinic(world, habits.clinic)[tester]
    chance = rng.random((4, len(tester)))
    rounded = []
    for peak, draw in zip((peaks.rw, peaks.rc, peaks.lw, peaks.lc), chance, strict=True):
        value = np.where(coarse, np.round(peak), np.round(peak, 1))
        value = np.where(draw < habits.whole[of], np.round(value), value)
        by_hand = (draw >= habits.whole[of]) & (draw < habits.whole[of] + habits.five[of])
        rounded.append(np.where(by_hand, 5.0 * np.round(value / 5.0), value))
    return Peaks(*rounded)


def _whole_number_clinic(world: World, clinic: Ints) -> NDArray[np.bool_]:
    return np.asarray(clinic >= world.clinics * (1.0 - world.whole_number_clinics))


def _result_facts(
    facts: dict[str, Floats], peaks: Peaks, spontaneous: Floats, incomplete: NDArray[np.bool_]
) -> None:
    """Peaks, totals, percentages and criteria; an incomplete visit lacks its cool responses."""
    right, left = (np.where(incomplete, np.nan, cool) for cool in (peaks.rc, peaks.lc))
    shown = Peaks(rw=peaks.rw, rc=right, lw=peaks.lw, lc=left)
    handling = np.full(len(spontaneous), HANDLING_NOT_REMOVED, dtype=np.int8)
    figures = percentages(shown, spontaneous, handling)
    for name in set(figures) & set(facts):
        facts[name] = figures[name]
    cells = ("right_warm", "right_cool", "left_warm", "left_cool")
    columns = (shown.rw, shown.rc, shown.lw, shown.lc)
    facts.update(zip(cells, columns, strict=True))
    total = facts["total_spv"]
    known = total >= LOW_TOTAL
    facts["weakness_met"] = _met(facts["unilateral_weakness_percent"], WEAKNESS_LIMIT, known)
    facts["preponderance_met"] = _met(
        facts["directional_preponderance_percent"], PREPONDERANCE_LIMIT, known
    )
    facts["low_total_met"] = np.where(np.isnan(total), np.nan, total < LOW_TOTAL)
    both = np.array(columns) - np.array([1.0, -1.0, -1.0, 1.0])[:, None] * spontaneous
    by_disease = np.nansum(both < INVERTED_BELOW, axis=0) > 0
    facts["inverted"] = np.fmax(facts["inverted"], by_disease)
    facts["negative_peaks"] = np.nansum(np.array(columns) < 0, axis=0).astype(np.float64)


def _met(percent: Floats, limit: float, known: NDArray[np.bool_]) -> Floats:
    return np.where(known & np.isfinite(percent), np.abs(percent) > limit, np.nan)


def _first_excess(facts: dict[str, Floats], answered: Responses, ways: Ways) -> None:
    """ln(first / geometric mean of the other three), the usual warm-cool ratio taken off."""
    peaks = np.where(answered.peaks > 0, answered.peaks, np.nan)
    log = np.log(peaks) - 0.17 * np.array([1.0, -1.0, 1.0, -1.0])
    first = np.take_along_axis(log, first_cell(ways)[:, None], axis=1)[:, 0]
    excess = first - (log.sum(axis=1) - first) / 3.0
    facts["first_excess"] = np.where(np.isnan(facts["total_spv"]), np.nan, excess)


def _digit_facts(
    world: World, habits: Habits, facts: dict[str, Floats], peaks: Peaks, tester: Ints
) -> None:
    """Clinics whose device exports whole numbers are left out."""
    # Tenths as whole numbers: 12.0 as 120, so that no float decides.
    tenths = np.round(10.0 * np.array([peaks.rw, peaks.rc, peaks.lw, peaks.lc])).astype(np.int64)
    counted = (tenths >= 10 * DIGITS_FROM) & ~_whole_number_clinic(world, habits.clinic)[tester]
    for name, divisor in (("digit_peaks", 1), ("digit_whole", 10), ("digit_five", 50)):
        facts[name] = (counted & (tenths % divisor == 0)).sum(axis=0).astype(np.float64)


def _habits_facts(
    rng: np.random.Generator,
    world: World,
    habits: Habits,
    facts: dict[str, Floats],
    tester: Ints,
    month: Ints,
) -> None:
    """What follows from how the tester works, whoever the patient is."""
    of, count, clinic = (tester, month), len(tester), habits.clinic[tester]
    chance = {name: expit(logits[of]) for name, logits in habits.shares.items()}

    def events(name: str, trials: Floats | int) -> Floats:
        return rng.binomial(np.asarray(trials, dtype=np.int64), chance[name]).astype(np.float64)

    ones = np.ones(count)
    avoidable, indicated = events("repeats_avoidable", ones), events("repeats_indicated", ones)
    printed: Floats = ones * (clinic < world.clinics * world.reported_clinics)
    beats: Floats = np.asarray(
        4.0 * (clinic >= world.clinics * (1.0 - world.beats_clinics)), dtype=np.float64
    )
    facts |= {
        "bithermal": ones,
        "incomplete": events("incomplete", ones),
        "inverted": events("inverts", ones),
        "repeats_avoidable": avoidable,
        "repeats_indicated": indicated,
        "repeats": avoidable + indicated,
        "irrigations": 4.0 + avoidable + indicated,
        "repeats_without_reason": events("repeats_without_reason", avoidable + indicated),
        "fixation_recorded": events("fixation_recorded", ones),
        "rests": 3.0 * ones,
        "rests_kept": events("rest_kept", 3.0 * ones),
        "durations": 4.0 * ones,
        "durations_kept": events("duration_kept", 4.0 * ones),
        "reported": printed,
        "reported_differs": events("reported_differs", printed),
        "beat_peaks": beats,
        "beat_peaks_differ": events("peak_differs", beats),
        "check_current": events("check_current", ones),
        "after_failed": events("after_failed", ones),
        "upload_days": np.floor(np.exp(rng.normal(*UPLOAD, count) + habits.upload[of])),
        "age_years": np.clip(np.round(rng.normal(54.0, 16.0, count)), 8.0, 97.0),
        "female": (rng.random(count) < 0.58).astype(np.float64),
    }
    index = rng.normal(*FIXATION, count) + habits.fixation[of]
    facts["fixation_index_overall"] = np.where(facts["fixation_recorded"] == 1.0, index, np.nan)
