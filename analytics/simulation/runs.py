"""One invented network through the engine: when was each fault found, what was false."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.detection.engine import evaluate
from analytics.detection.evaluation import Evaluation
from analytics.detection.policy import DEFAULT, Policy
from analytics.detection.tallies import Tallies
from analytics.measures import Catalogue
from analytics.simulation.faults import Fault
from analytics.simulation.habits import Habits, draw_habits
from analytics.simulation.naive import naive_marks
from analytics.simulation.tally import tally
from analytics.simulation.visits import draw_visits
from analytics.simulation.world import World

START: Final = 12
NAIVE: Final = {"mean ± 2 SD": 2.0, "mean ± 3 SD": 3.0}
TIERS: Final = ("please_review", "worth_a_look")


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """A fault in one tester, to one side (+1, -1)."""

    fault: Fault
    tester: int
    side: float


@dataclass(slots=True)
class Run:
    """What became of one network or of many (they add up).

    ``months_to`` holds, by fault and rule, the months from the start to the first mark of each
    tester who had it (0: none until the end). ``false`` counts marks on testers without a fault
    by rule, ``tester_years`` what they were counted over.
    """

    months_to: dict[tuple[str, str], list[int]] = field(default_factory=dict)
    false: Counter[str] = field(default_factory=Counter)
    false_by: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    tester_years: float = 0.0
    networks: int = 0
    visits: int = 0

    def add(self, other: Run) -> None:
        for key, months in other.months_to.items():
            self.months_to.setdefault(key, []).extend(months)
        self.false += other.false
        self.false_by += other.false_by
        self.tester_years += other.tester_years
        self.networks += other.networks
        self.visits += other.visits


def simulate(
    rng: np.random.Generator, world: World, catalogue: Catalogue, plants: Sequence[Plant]
) -> Tallies:
    """The sums of a network with these faults in it."""
    habits = draw_habits(rng, world)
    for plant in plants:
        _plant(habits, plant)
    measures = [measure.id for measure in catalogue.of("tester")]
    visits = draw_visits(rng, world, habits)
    return tally(visits, habits.clinic, measures=measures, months=world.months)


def run(
    rng: np.random.Generator,
    world: World,
    catalogue: Catalogue,
    faults: Sequence[Fault] = (),
    *,
    each: int = 2,
    policy: Policy = DEFAULT,
) -> Run:
    """One network, each of the faults in ``each`` testers, watched by every rule."""
    plants = deal(rng, world, faults, each=each)
    tallies = simulate(rng, world, catalogue, plants)
    found = first_marks(tallies, evaluate(tallies, catalogue, policy=policy))
    clean = np.ones(world.testers, dtype=np.bool_)
    clean[[plant.tester for plant in plants]] = False
    outcome = Run(networks=1, visits=int(tallies.n.max(axis=0).sum()))
    outcome.tester_years = float(clean.sum()) * world.months / 12.0
    for rule, marks in found.items():
        outcome.false[rule] = int(marks[:, clean].sum())
        for plant in plants:
            key = (plant.fault.id, rule)
            outcome.months_to.setdefault(key, []).append(_months_to(tallies, marks, plant))
        by_measure = marks[:, clean].sum(axis=(1, 2))
        for name, count in zip(tallies.measures, by_measure.tolist(), strict=True):
            outcome.false_by[rule, "", name] += count
    return outcome


def deal(
    rng: np.random.Generator, world: World, faults: Sequence[Fault], *, each: int
) -> list[Plant]:
    """Testers at random, no two in one clinic where that can be, sides in turn.

    Not where the device exports whole numbers: there nobody can round by hand.
    """
    wanted = [fault for fault in faults for _ in range(each)]
    clinics = rng.permutation(int(world.clinics * (1.0 - world.whole_number_clinics)))
    plants = []
    for place, fault in enumerate(wanted):
        round_, clinic = divmod(place, len(clinics))
        tester = int(clinics[clinic]) + round_ * world.clinics
        plants.append(Plant(fault=fault, tester=tester, side=1.0 if place % 2 else -1.0))
    return plants


def first_marks(tallies: Tallies, evaluation: Evaluation) -> Mapping[str, NDArray[np.bool_]]:
    """By rule: marks opened, (measures, testers, months)."""
    shape = tallies.n.shape
    marks = {tier: np.zeros(shape, dtype=np.bool_) for tier in TIERS}
    month = {first: place for place, first in enumerate(tallies.months)}
    measure = {name: place for place, name in enumerate(tallies.measures)}
    for episode in evaluation.episodes:
        tester = tallies.testers.index(episode.subject)
        marks[episode.tier][measure[episode.measure], tester, month[episode.opened]] = True
    return marks | {name: naive_marks(tallies, times=times) for name, times in NAIVE.items()}


def _plant(habits: Habits, plant: Plant) -> None:
    start = 0 if plant.fault.from_first_day else START
    habits.rate[plant.tester] = plant.fault.visits
    plant.fault.change(habits, np.array([plant.tester]), start, plant.side)


def _months_to(tallies: Tallies, marks: NDArray[np.bool_], plant: Plant) -> int:
    start = 0 if plant.fault.from_first_day else START
    rows = [tallies.measures.index(name) for name in plant.fault.measures]
    marked: NDArray[np.bool_] = np.any(marks[rows, plant.tester], axis=0)
    months = np.flatnonzero(marked[start:])
    return int(months[0]) + 1 if len(months) else 0
