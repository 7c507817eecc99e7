"""One bounded score a visit for each measure, so that three sums a month carry everything.

Every function takes ``Facts`` and gives ``Score``: arrays of one value a visit. For a mean ``n``
is 1 where the visit counts and ``s`` its score; for a share ``n`` are the occasions and ``s`` how
often it happened. Both are 0 where the visit does not count. ``ss`` is the square of ``s``.

The bounds are those of a recipe tried by simulation (``docs/detection-study.md``): patients with a
real weakness make heavy tails, and a plain mean of the signed weakness needs three times the
visits that a bounded score needs.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from analytics.measures.facts import Facts, Floats

Flags = NDArray[np.bool_]

# Percentages of a smaller total are too unsteady to score: their error grows as 1 / total.
STEADY_FROM: Final = 24.0
# Level is scored about a fixed centre, so that sums made at any time merge: ln of 90 deg/s, the
# order of four responses together (28 and 25 deg/s warm and cool, skewed: Hannigan et al., J
# Neurol 2024;271).
LEVEL_CENTRE: Final = float(np.log(90.0))
# Usual ln(warm / cool): the half difference of 0.17 in that series, doubled.
WARM_COOL_CENTRE: Final = 0.34
FIXATION_CENTRE: Final = 0.46
# So many counted responses beating backwards in one visit are labels exchanged, not a patient.
EXCHANGED_FROM: Final = 3


class Score(NamedTuple):
    """Occasions, score or events, and its square, a value a visit."""

    n: Floats
    s: Floats
    ss: Floats


ScoreOf = Callable[[Facts], Score]


def score(measure: str, facts: Facts) -> Score:
    """The score of a measure by its id.

    :raises KeyError: if no measure has this id.
    """
    return SCORES[measure](facts)


def _mean(values: Floats, counts: Flags | None = None) -> Score:
    known = np.isfinite(values)
    if counts is not None:
        known &= counts
    s = np.where(known, values, 0.0)
    return Score(known.astype(np.float64), s, s * s)


def _share(events: Floats, trials: Floats) -> Score:
    known = np.isfinite(events) & np.isfinite(trials) & (trials > 0)
    s = np.where(known, events, 0.0)
    return Score(np.where(known, trials, 0.0), s, s * s)


def _yes_or_no(flag: Floats) -> Score:
    return _share(flag, np.where(np.isfinite(flag), 1.0, 0.0))


def _steady(facts: Facts) -> Flags:
    # A comparison with NaN is simply not so.
    return np.asarray(facts.total_spv >= STEADY_FROM)


def _ln(values: Floats) -> Floats:
    """Natural logarithm, NaN where there is none."""
    return np.log(np.where(values > 0, values, np.nan))


def right_left_balance(facts: Facts) -> Score:
    """Biweight score of the signed weakness: 0 beyond 55 points, where patients are ill."""
    u = facts.unilateral_weakness_percent
    inside = np.where(np.abs(u) < 55.0, u * (1.0 - (u / 55.0) ** 2) ** 2, 0.0)
    return _mean(np.where(np.isnan(u), np.nan, inside), _steady(facts))


def direction_balance(facts: Facts) -> Score:
    return _mean(np.clip(facts.gain_asymmetry_percent, -22.0, 22.0), _steady(facts))


def response_level(facts: Facts) -> Score:
    """ln of twice the larger ear total: a patient's weak ear does not count."""
    larger = np.fmax(facts.right_total, facts.left_total)
    both = np.isfinite(facts.right_total) & np.isfinite(facts.left_total)
    values = np.clip(_ln(2.0 * larger) - LEVEL_CENTRE, -0.8, 0.8)
    # No response at all is the lowest level there is, not an unknown one; but four responses that
    # beat backwards are exchanged labels, which have a rule of their own.
    values = np.where(both & (larger <= 0), -0.8, values)
    return _mean(values, both & ~(facts.negative_peaks >= EXCHANGED_FROM))


def warm_cool_ratio(facts: Facts) -> Score:
    ratio = _ln(facts.warm_total) - _ln(facts.cool_total) - WARM_COOL_CENTRE
    return _mean(np.clip(ratio, -0.5, 0.5), _steady(facts))


def weakness_spread(facts: Facts) -> Score:
    return _mean(np.minimum(np.abs(facts.unilateral_weakness_percent), 25.0), _steady(facts))


def direction_spread(facts: Facts) -> Score:
    return _mean(np.minimum(np.abs(facts.gain_asymmetry_percent), 25.0), _steady(facts))


def fixation_level(facts: Facts) -> Score:
    return _mean(np.clip(facts.fixation_index_overall - FIXATION_CENTRE, -0.3, 0.3))


def first_response_excess(facts: Facts) -> Score:
    return _mean(np.clip(facts.first_excess, -0.6, 0.6))


def days_to_upload(facts: Facts) -> Score:
    """ln(1 + days), so that one forgotten visit does not stand for a month of prompt ones.

    More than 90 days is a history loaded at once: it says nothing about anybody's habits.
    """
    days = np.maximum(facts.upload_days, 0.0)
    return _mean(np.log1p(days), days <= 90.0)


SCORES: Final[dict[str, ScoreOf]] = {
    "weakness_beyond_limit": lambda f: _yes_or_no(f.weakness_met),
    "preponderance_beyond_limit": lambda f: _yes_or_no(f.preponderance_met),
    "low_total": lambda f: _yes_or_no(f.low_total_met),
    "inverted": lambda f: _yes_or_no(f.inverted),
    "response_level": response_level,
    "right_left_balance": right_left_balance,
    "direction_balance": direction_balance,
    "warm_cool_ratio": warm_cool_ratio,
    "weakness_spread": weakness_spread,
    "direction_spread": direction_spread,
    "fixation_level": fixation_level,
    "fixation_recorded": lambda f: _yes_or_no(f.fixation_recorded),
    "repeats_by_visit": lambda f: _yes_or_no(np.minimum(f.repeats, 1.0)),
    "repeats_by_irrigation": lambda f: _share(f.repeats, f.irrigations),
    "repeats_avoidable": lambda f: _yes_or_no(np.minimum(f.repeats_avoidable, 1.0)),
    "repeats_indicated": lambda f: _yes_or_no(np.minimum(f.repeats_indicated, 1.0)),
    "repeats_without_reason": lambda f: _share(f.repeats_without_reason, f.repeats),
    "first_response_excess": first_response_excess,
    "rest_kept": lambda f: _share(f.rests_kept, f.rests),
    "duration_kept": lambda f: _share(f.durations_kept, f.durations),
    "incomplete_tests": lambda f: _yes_or_no(f.incomplete),
    "reported_differs": lambda f: _share(f.reported_differs, f.reported),
    "peak_differs_from_beats": lambda f: _share(f.beat_peaks_differ, f.beat_peaks),
    "digits_whole": lambda f: _share(f.digit_whole, f.digit_peaks),
    "digits_five": lambda f: _share(f.digit_five, f.digit_peaks),
    "days_to_upload": days_to_upload,
    "check_current": lambda f: _yes_or_no(f.check_current),
    "after_failed_check": lambda f: _yes_or_no(f.after_failed),
}
