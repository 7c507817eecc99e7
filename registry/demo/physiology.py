"""How the balance organ answers: speeds of the slow phase, and the beats behind them.

Four responses on the natural-log scale: a subject's mean, half the difference of warm and
cool, of the ears and of the beat directions, and what each irrigation adds. All in all: mean
3.08, SD about 0.4; half warm-cool difference 0.17 ± 0.14; half differences of ears and of
directions SD 0.11 and 0.10. [Derived: they give the warm 28 ± 14 deg/s of Hannigan et al., J
Neurol 2024;271, and the retest limits of Proctor et al., Ann Otol Rhinol Laryngol
1986;95:83-90.] The SDs in ``people`` are smaller by what ``RETEST`` adds here.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from registry.demo.people import People
from registry.demo.temperatures import BODY_C

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

# Proctor et al. 1986: upper limit of UW retest change 24 points, read as a 95 % limit [derived].
RETEST: Final = 0.17
ADDED_NOISE: Final = 0.6
# Anderson, Br J Audiol 1995;29:117-128: the first is much stronger in about one fifth.
FIRST_STRONGER_SHARE: Final = 0.15
# Common practice, no source: above it a recording holds artefacts, not slow phases.
FASTEST: Final = 180.0
BEATS_FROM_S: Final = 10.0
BEATS_TO_S: Final = 150.0
FIXATION_S: Final = (100.0, 110.0)
_ONSET_S: Final = 12.0
_ICE_OVER_COOL: Final = 0.35


def draw_responses(
    rng: np.random.Generator,
    people: People,
    *,
    ear: Ints,
    stimulus: Ints,
    first: Ints,
    strength: Floats,
) -> Floats:
    """Peak speeds in deg/s, positive in the expected direction, without spontaneous nystagmus.

    ``ear`` (0 right, 1 left), ``stimulus`` (0 warm, 1 cool, 2 ice) and ``strength`` have the
    shape (visits, irrigations); ``first`` is the column irrigated first in each visit.
    """
    visit = np.arange(len(ear))[:, None]
    warm = np.where(stimulus == 0, 1.0, -1.0)
    right = np.where(ear == 0, 1.0, -1.0)
    log = (
        people.level[:, None]
        + warm * people.warm_half[:, None]
        + right * people.ear_half[:, None]
        + warm * right * people.direction_half[:, None]
        + np.where(stimulus == 2, _ICE_OVER_COOL, 0.0)
        + rng.normal(0.0, RETEST, ear.shape)
    )
    factor = people.gain[visit, ear] * strength
    factor[visit[:, 0], first] *= _first_stronger(rng, len(ear))
    speed = np.exp(log) * factor + rng.normal(0.0, ADDED_NOISE, ear.shape)
    # In 200,000 visits the tail of the logarithm gives a few that no eye could make.
    return np.asarray(np.minimum(speed, FASTEST))


def _first_stronger(rng: np.random.Generator, count: int) -> Floats:
    stronger = rng.random(count) < FIRST_STRONGER_SHARE
    return np.where(stronger, rng.uniform(1.2, 1.6, count), 1.0)


def thermal_strength(set_c: Floats, delivered_c: Floats) -> Floats:
    """Response relative to that at the set temperature: in proportion to the distance from 37."""
    return (delivered_c - BODY_C) / (set_c - BODY_C)


def envelope(time_s: Floats, culmination_s: Floats) -> Floats:
    """Share of the peak at each time after the onset of the irrigation; 1 at culmination.

    Rises from about 12 s, culminates at 60-90 s and falls to about half by 130 s (Int J Pediatr
    Otorhinolaryngol 1999;50:169-176: culmination 60-90 s, response until 110-130 s).
    """
    x = np.clip((time_s - _ONSET_S) / (culmination_s - _ONSET_S), 0.0, None)
    return np.asarray((x * np.exp(1.0 - x)) ** 3)


def draw_beats(
    rng: np.random.Generator,
    response: Floats,
    spontaneous: Floats,
    culmination_s: Floats,
    fixation: float | None,
) -> list[tuple[list[float], list[float]]]:
    """Times in s and signed speeds in deg/s of the beats of each irrigation of one visit.

    1 to 3 beats a second, noise of 10-20 % and 3-8 % artefact beats; ``fixation`` is the share
    of the speed that remains while a target is looked at (``None``: no target was shown).
    """
    rate = rng.uniform(1.3, 2.7)
    count = int((BEATS_TO_S - BEATS_FROM_S) * rate * 1.15)
    shape = (len(response), count)
    # No gap under 0.2 s: two beats must not fall on one tenth of a second.
    gaps = 0.2 + rng.gamma(3.0, (1.0 / rate - 0.2) / 3.0, shape)
    time = np.round(BEATS_FROM_S + np.cumsum(gaps, axis=1), 1)
    speed = response[:, None] * envelope(time, culmination_s[:, None]) + spontaneous[:, None]
    if fixation is not None:
        speed *= np.where((time >= FIXATION_S[0]) & (time <= FIXATION_S[1]), fixation, 1.0)
    speed = np.round(_with_noise(rng, speed), 1) + 0.0
    inside = (time <= BEATS_TO_S).sum(axis=1).tolist()
    return [
        (t[:end].tolist(), v[:end].tolist()) for t, v, end in zip(time, speed, inside, strict=True)
    ]


def _with_noise(rng: np.random.Generator, speed: Floats) -> Floats:
    noise = rng.uniform(0.10, 0.20)
    noisy = speed * (1.0 + noise * rng.standard_normal(speed.shape))
    noisy += 0.3 * rng.standard_normal(speed.shape)
    artefact = rng.random(speed.shape) < rng.uniform(0.03, 0.08)
    strange = rng.uniform(-60.0, 60.0, speed.shape)
    return np.where(artefact, noisy + strange, noisy)
