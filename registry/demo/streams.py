"""Random numbers that never depend on which clinic was asked first."""

from __future__ import annotations

from typing import Final, Literal

import numpy as np

from registry.demo.scenario import Clinic, Scenario

Purpose = Literal["diary", "people", "codes", "responses", "course", "beats", "checks", "events"]
_PURPOSES: Final[tuple[Purpose, ...]] = (
    "diary",
    "people",
    "codes",
    "responses",
    "course",
    "beats",
    "checks",
    "events",
)


def stream(scenario: Scenario, clinic: Clinic, purpose: Purpose, seed: int) -> np.random.Generator:
    """A generator of its own for each clinic and purpose.

    One stream for all would let a change in one clinic, or one more beat, move every
    number behind it.
    """
    of_clinics = np.random.SeedSequence(seed).spawn(len(scenario.clinics))
    of_purposes = of_clinics[scenario.clinics.index(clinic)].spawn(len(_PURPOSES))
    return np.random.default_rng(of_purposes[_PURPOSES.index(purpose)])
