"""How each tester works in each month: honest differences and wander, before any fault."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from analytics.simulation.world import USUAL, Spread, World

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(slots=True)
class Habits:
    """One value a tester and month, (testers, months), unless said otherwise; faults change them.

    ``balance`` adds to half the log difference of the ears (right more), ``direction`` to that
    of the beats (right more), ``level`` to the log of all, ``warm_cool`` to half warm less cool.
    ``noise`` multiplies what each irrigation adds, ``ear_noise`` is an extra SD of the ears'
    half difference. ``shares`` are logits by name of ``USUAL``. ``whole`` and ``five`` are the
    shares of peaks rounded by hand; ``weak`` the share of patients with one weak ear.
    """

    clinic: Ints  # (testers,)
    rate: Floats  # (testers,): visits a month
    balance: Floats
    direction: Floats
    level: Floats
    warm_cool: Floats
    noise: Floats
    ear_noise: Floats
    fixation: Floats
    upload: Floats
    right_first: Floats
    whole: Floats
    five: Floats
    weak: Floats
    shares: dict[str, Floats]


def draw_habits(rng: np.random.Generator, world: World) -> Habits:
    """Testers dealt to clinics as evenly as can be, each with a usual of their own."""
    clinic = np.arange(world.testers) % world.clinics
    shape = (world.testers, world.months)

    def around(spread: Spread) -> Floats:
        return _draw(rng, world, clinic, spread)

    return Habits(
        clinic=clinic,
        rate=rng.uniform(world.visits_from, world.visits_to, world.testers),
        balance=around(world.balance),
        direction=around(world.direction),
        level=around(world.level),
        warm_cool=around(world.warm_cool),
        noise=np.exp(around(world.noise)),
        ear_noise=np.zeros(shape),
        fixation=around(world.fixation),
        upload=around(world.upload),
        right_first=np.repeat(rng.beta(4.0, 4.0, (world.testers, 1)), world.months, axis=1),
        whole=np.zeros(shape),
        five=np.zeros(shape),
        weak=np.full(shape, 0.25),
        shares={
            name: np.log(usual / (1.0 - usual)) + around(world.shares)
            for name, usual in USUAL.items()
        },
    )


def _draw(rng: np.random.Generator, world: World, clinic: Ints, spread: Spread) -> Floats:
    """Clinic's part, tester's part, and wander that fades by ``wander_kept`` each month."""
    of_clinic = rng.normal(0.0, spread.clinic, world.clinics)[clinic]
    if world.tester_tails:
        tails = world.tester_tails
        scale = spread.tester * np.sqrt((tails - 2.0) / tails)
        of_tester = scale * rng.standard_t(tails, world.testers)
    else:
        of_tester = rng.normal(0.0, spread.tester, world.testers)
    kept, sd = world.wander_kept, world.wander_times * spread.wander
    # A year of lead-in, so that the first month wanders as much as the last.
    steps = rng.normal(0.0, sd * np.sqrt(1.0 - kept**2), (world.testers, world.months + 12))
    wander = np.asarray(lfilter([1.0], [1.0, -kept], steps, axis=1))[:, 12:]
    return np.asarray((of_clinic + of_tester)[:, None] + wander)
