"""The four cells, the direction each should beat in, and which attempt counts.

A right-warm and a left-cool response beat to the right, a left-warm and a right-cool response
to the left (warm: towards the irrigated ear, cool: away from it). Every formula downstream reads
speeds that are positive when the beat goes that expected way, so every other convention is
turned into this one here and nowhere else.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from registry.caloric.visit import Beats, Irrigation, Visit
from registry.caloric.vocabulary import CELLS, BeatDirection

# Right-warm and left-cool; their sum is what beats to the right.
RIGHT_BEATING_CELLS: Final = ("right_warm", "left_cool")
LEFT_BEATING_CELLS: Final = ("left_warm", "right_cool")

_PROTOCOL_CELLS: Final = {
    frozenset(CELLS): "bithermal",
    frozenset({"right_warm", "left_warm"}): "monothermal_warm",
    frozenset({"right_cool", "left_cool"}): "monothermal_cool",
}


def expected_beat_direction(irrigation: Irrigation) -> BeatDirection:
    """Side the fast phase should beat to: towards the ear for warm, away from it for cool.

    Ice is like cool while the subject lies on the back; face down the same cold canal drives the
    nystagmus towards the ear.
    """
    towards = irrigation.stimulus == "warm" or (
        irrigation.stimulus == "ice" and irrigation.position == "prone"
    )
    return "right" if (irrigation.ear == "right") == towards else "left"


def right_beating_sign(irrigation: Irrigation) -> int:
    """+1 where the expected direction is right, -1 where it is left."""
    return 1 if expected_beat_direction(irrigation) == "right" else -1


def normalise(visit: Visit) -> Visit:
    """The same visit with peaks, fixation speeds and beats positive in the expected direction.

    ``unsigned`` magnitudes take their sign from ``beat_direction``; without one they stay as
    they are, and whether that is harmless is asked of the visit **as sent**: see
    ``directions_known``. Speeds before the irrigation (``spontaneous.spv``, ``baseline_spv``)
    are right-beating positive in every convention and stay untouched.
    """
    if visit.sign_convention == "expected_positive":
        return visit
    return replace(
        visit,
        sign_convention="expected_positive",
        irrigations=tuple(
            _turned(one, _factor(visit.sign_convention, one)) for one in visit.irrigations
        ),
    )


def sign_conflicts(visit: Visit) -> list[int]:
    """Positions of irrigations whose peak, as sent, contradicts its own ``beat_direction``.

    A peak of 0 has no direction and never conflicts. An ``unsigned`` magnitude below 0
    contradicts its own convention and counts as a conflict too.
    """
    return [
        position
        for position, one in enumerate(visit.irrigations)
        if one.peak_spv and _conflicts(visit.sign_convention, one, one.peak_spv)
    ]


def directions_known(visit: Visit) -> bool:
    """Whether every usable response of the visit, as sent, says which way it beat.

    Ask before ``normalise``: afterwards the convention no longer tells.
    """
    return visit.sign_convention != "unsigned" or all(
        one.beat_direction is not None for one in visit.irrigations if _has_response(one)
    )


def counted(visit: Visit, first_attempt: bool = False) -> dict[str, Irrigation]:
    """The irrigation that counts in each of the four cells; a cell without one is left out.

    Ask once the peaks that the beats give are filled in: without a peak nothing counts.

    It is the attempt the sender marked, else the last usable one; with ``first_attempt`` the
    first usable one. A marked attempt that is not usable does not count.
    """
    choose = _first_usable if first_attempt else counting_attempt
    attempts = _attempts(visit)
    return {cell: choose(attempts[cell]) for cell in CELLS if cell in attempts}


def counting_attempt(attempts: Iterable[Irrigation]) -> Irrigation:
    """The one of a cell's usable attempts that counts; ``attempts`` must not be empty."""
    in_order = sorted(attempts, key=lambda one: one.attempt)
    marked = [one for one in in_order if one.counts]
    # A "no" on every attempt names none of them, so it leaves the default standing.
    not_refused = [one for one in in_order if one.counts is not False]
    return (marked or not_refused or in_order)[-1]


def counting_names(visit: Visit) -> frozenset[str]:
    """Names of all irrigations that count, ice among them."""
    return frozenset(counting_attempt(attempts).name for attempts in _attempts(visit).values())


def protocol_done(visit: Visit) -> str:
    """What was in fact done, from the usable responses that are there.

    ``bithermal``, ``monothermal_warm``, ``monothermal_cool``, ``ice_only``, ``partial`` (some
    other set of cells) or ``nothing_usable``. Ice beside any of the four cells is an addition
    to them and changes nothing.
    """
    responses = {one.cell for one in visit.irrigations if _has_response(one)}
    cells = responses & set(CELLS)
    if not cells:
        return "ice_only" if responses else "nothing_usable"
    return _PROTOCOL_CELLS.get(frozenset(cells), "partial")


def _attempts(visit: Visit) -> dict[str, list[Irrigation]]:
    """The usable irrigations with a peak by cell, ice among them.

    Beats too few for a peak leave nothing that could stand for the cell; an earlier attempt may.
    """
    by_cell: dict[str, list[Irrigation]] = {}
    for one in visit.irrigations:
        if one.usable and one.peak_spv is not None:
            by_cell.setdefault(one.cell, []).append(one)
    return by_cell


def _has_response(one: Irrigation) -> bool:
    return one.usable and (one.peak_spv is not None or one.beats is not None)


def _first_usable(attempts: Iterable[Irrigation]) -> Irrigation:
    return min(attempts, key=lambda one: one.attempt)


def _factor(convention: str, one: Irrigation) -> int:
    if convention == "right_beating_positive":
        return right_beating_sign(one)
    if convention == "slow_phase_right_positive":
        # The slow phase runs against the beat.
        return -right_beating_sign(one)
    if convention == "unsigned" and one.beat_direction is not None:
        return 1 if one.beat_direction == expected_beat_direction(one) else -1
    return 1


def _conflicts(convention: str, one: Irrigation, peak: float) -> bool:
    if convention == "unsigned":
        return peak < 0
    if one.beat_direction is None:
        return False
    as_expected = _factor(convention, one) * peak > 0
    return as_expected != (one.beat_direction == expected_beat_direction(one))


def _turned(one: Irrigation, factor: int) -> Irrigation:
    if factor == 1:
        return one
    return replace(
        one,
        peak_spv=_negated(one.peak_spv),
        pre_fixation_spv=_negated(one.pre_fixation_spv),
        fixation_spv=_negated(one.fixation_spv),
        beats=one.beats and Beats(one.beats.time_s, tuple(0.0 - spv for spv in one.beats.spv)),
    )


def _negated(speed: float | None) -> float | None:
    # 0 - x, because -x turns a measured 0 into a printed "-0.0".
    return None if speed is None else 0.0 - speed
