"""The people who come, and the four responses of each: on the natural-log scale.

Mean 3.08, SD 0.42; half warm-cool difference 0.17, SD 0.14; half difference of the ears SD 0.10
and of the beat directions SD 0.095, with 0.17 of noise in each irrigation among them. Warm 28 ±
14.2 and cool 25 ± 12.8 deg/s were published (Hannigan et al., J Neurol 2024;271), 0.17 follows
from the retest limit of Proctor et al., Ann Otol Rhinol Laryngol 1986;95:83-90; about 25 % with
one weak ear, 2-3 % with two, spontaneous nystagmus in 5-10 %: orders of magnitude.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from registry.caloric.formulas import Peaks

Floats = NDArray[np.float64]

IRRIGATION_SD: Final = 0.17
LEVEL: Final = (3.08, 0.41)
WARM_HALF: Final = (0.17, 0.111)
EAR_SD: Final = 0.053
DIRECTION_SD: Final = 0.042
RECORDER_SD: Final = 0.6
BOTH_WEAK: Final = 0.025
SPONTANEOUS_SHARE: Final = 0.075
FASTEST: Final = 180.0
# Anderson, Br J Audiol 1995;29:117-128: the first is much stronger in about one fifth.
STRONGER: Final = (1.2, 1.6)


class Ways(NamedTuple):
    """How each of the visits was done, one value a visit, from the tester's habits of the month."""

    balance: Floats
    direction: Floats
    level: Floats
    warm_cool: Floats
    noise: Floats
    ear_noise: Floats
    weak: Floats
    right_first: Floats  # 1 and 0
    warm_first: Floats  # 1 and 0


class Responses(NamedTuple):
    """Peaks without spontaneous nystagmus, the nystagmus, and how much stronger the first was."""

    peaks: Floats  # (visits, 4): right warm, right cool, left warm, left cool
    spontaneous: Floats


# Signs of right less left, warm less cool, right-beating less left-beating, in Peaks' order.
_EAR: Final = np.array([1.0, 1.0, -1.0, -1.0])
_WARM: Final = np.array([1.0, -1.0, 1.0, -1.0])
_BEAT: Final = _EAR * _WARM


def draw_responses(
    rng: np.random.Generator, ways: Ways, *, first_stronger_share: float
) -> Responses:
    """What the balance organs of new patients answer to these ways of testing."""
    count = len(ways.level)
    ear = ways.balance + rng.normal(0.0, np.sqrt(EAR_SD**2 + ways.ear_noise**2))
    log = (
        (rng.normal(*LEVEL, count) + ways.level)[:, None]
        + _WARM * (rng.normal(*WARM_HALF, count) + ways.warm_cool)[:, None]
        + _EAR * ear[:, None]
        + _BEAT * (ways.direction + rng.normal(0.0, DIRECTION_SD, count))[:, None]
        + rng.normal(0.0, IRRIGATION_SD, (count, 4)) * ways.noise[:, None]
    )
    gain, weak_right = _gains(rng, ways.weak)
    speed = np.exp(log) * gain[:, [0, 0, 1, 1]]
    first = first_cell(ways)
    stronger = rng.random(count) < first_stronger_share
    speed[np.arange(count), first] *= np.where(stronger, rng.uniform(*STRONGER, count), 1.0)
    speed += rng.normal(0.0, RECORDER_SD, speed.shape)
    return Responses(np.minimum(speed, FASTEST), _spontaneous(rng, weak_right))


def first_cell(ways: Ways) -> NDArray[np.int64]:
    """Which of the four was irrigated first, in Peaks' order."""
    return np.asarray(2 * (ways.right_first < 0.5) + (ways.warm_first < 0.5), dtype=np.int64)


def as_recorded(responses: Responses) -> Peaks:
    """With the spontaneous nystagmus in them: to the right it helps RW and LC."""
    recorded = responses.peaks + _BEAT * responses.spontaneous[:, None]
    return Peaks(*recorded.T)


def _gains(rng: np.random.Generator, weak: Floats) -> tuple[Floats, Floats]:
    """Gain of right and left ear, and which is weak: 1 right, -1 left, 0 neither or both."""
    count = len(weak)
    chance, right = rng.random(count), rng.random(count) < 0.5
    both = chance < BOTH_WEAK
    one = ~both & (chance < BOTH_WEAK + weak)
    low = rng.uniform(0.0, 0.8, count)
    gain = np.ones((count, 2))
    gain[:, 0] = np.where(one & right, low, 1.0)
    gain[:, 1] = np.where(one & ~right, low, 1.0)
    gain = np.where(both[:, None], rng.uniform(0.03, 0.30, (count, 2)), gain)
    return gain, np.where(one, np.where(right, 1.0, -1.0), 0.0)


def _spontaneous(rng: np.random.Generator, weak_right: Floats) -> Floats:
    """Mostly beating away from the weak ear."""
    count = len(weak_right)
    side = np.where(rng.random(count) < 0.5, 1.0, -1.0)
    away = (weak_right != 0) & (rng.random(count) < 0.85)
    present = rng.random(count) < SPONTANEOUS_SHARE
    return np.where(present, np.where(away, -weak_right, side) * rng.gamma(4.0, 1.1, count), 0.0)
