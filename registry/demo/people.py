"""The people who come: invented at random, some of them more than once."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final

import numpy as np
import numpy.typing as npt

from registry.caloric.vocabulary import OPEN_DRUM, OTOSCOPY

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

FOLLOW_UP_SHARE: Final = 0.12
FOLLOW_UP_AFTER_DAYS: Final = 21
VOLUNTEER_SHARE: Final = 0.012

# Share of patients, of one weak ear, of two weak ears and of spontaneous nystagmus in each
# group. Over all groups about 25 %, 2-3 % and 5-10 %: order of magnitude of published clinic
# series (Hannigan et al., J Neurol 2024;271), how they spread over the groups from memory.
GROUPS: Final[dict[str, tuple[float, float, float, float]]] = {
    "first_acute_episode": (0.12, 0.55, 0.004, 0.32),
    "recurrent_episodes": (0.34, 0.26, 0.008, 0.04),
    "persistent_imbalance": (0.27, 0.17, 0.030, 0.03),
    "hearing_asymmetry_pathway": (0.10, 0.20, 0.008, 0.02),
    "ototoxicity_monitoring": (0.05, 0.05, 0.150, 0.01),
    "pre_or_post_procedure": (0.06, 0.42, 0.010, 0.06),
    "other": (0.06, 0.14, 0.008, 0.02),
}
GROUP_NAMES: Final = (*GROUPS, "volunteer")
VOLUNTEER: Final = len(GROUPS)
# A row a group, in the order of ONSET_BANDS; invented.
_ONSETS: Final = np.array(
    [
        [0.45, 0.40, 0.12, 0.03],
        [0.05, 0.15, 0.35, 0.45],
        [0.01, 0.06, 0.30, 0.63],
        [0.05, 0.15, 0.30, 0.50],
        [0.05, 0.25, 0.40, 0.30],
        [0.10, 0.20, 0.30, 0.40],
        [0.10, 0.20, 0.30, 0.40],
        [0.25, 0.25, 0.25, 0.25],
    ]
)
# In the order of OTOSCOPY; invented.
_OTOSCOPY: Final = np.array([0.862, 0.040, 0.055, 0.005, 0.003, 0.004, 0.018, 0.013])


@dataclass(frozen=True, slots=True)
class People:
    """One row a visit. Log scale values are of deg/s; ``gain`` is right and left.

    ``weak_ear`` is 0 right, 1 left, 2 both, 3 neither; ``spontaneous`` is in deg/s, beating
    right positive; ``otoscopy`` holds places in the vocabulary for right and left.
    """

    subject: Ints
    age: Ints
    sex: Ints
    group: Ints
    onset: Ints
    level: Floats
    warm_half: Floats
    ear_half: Floats
    direction_half: Floats
    gain: Floats
    weak_ear: Ints
    spontaneous: Floats
    otoscopy: Ints
    inverts: Bools
    fixation: Floats
    follow_up: Bools

    def open_drum(self) -> Bools:
        """Which ears must never meet open water: shape (visits, 2)."""
        return np.isin(self.otoscopy, [OTOSCOPY.index(word) for word in OPEN_DRUM])


def draw_people(rng: np.random.Generator, day: Ints) -> People:
    """Who comes on each day: mostly somebody new, about one in eight for a second time."""
    new = _draw_subjects(rng, len(day))
    first = _first_visits(rng, day)
    return _follow_up(rng, new, first, day)


def _draw_subjects(rng: np.random.Generator, count: int) -> People:
    group = rng.choice(len(GROUPS), size=count, p=[row[0] for row in GROUPS.values()])
    group[rng.random(count) < VOLUNTEER_SHARE] = VOLUNTEER
    gain, weak_ear = _draw_gains(rng, group)
    otoscopy = rng.choice(len(OTOSCOPY), size=(count, 2), p=_OTOSCOPY)
    # Two open drums in one person would leave nothing to irrigate with water.
    both = np.isin(otoscopy, [OTOSCOPY.index(word) for word in OPEN_DRUM]).all(axis=1)
    otoscopy[both, 1] = OTOSCOPY.index("clear")
    return People(
        subject=np.arange(count),
        age=np.clip(rng.normal(54, 16, count), 8, 97).astype(np.int64),
        sex=rng.choice(4, size=count, p=[0.575, 0.415, 0.005, 0.005]),
        group=group,
        onset=(rng.random(count)[:, None] > np.cumsum(_ONSETS, axis=1)[group, :-1]).sum(axis=1),
        # The between-subject parts; what each irrigation adds is in physiology.
        level=rng.normal(3.08, 0.38, count),
        warm_half=rng.normal(0.17, 0.11, count),
        ear_half=rng.normal(0.0, 0.075, count),
        direction_half=rng.normal(0.0, 0.045, count),
        gain=gain,
        weak_ear=weak_ear,
        spontaneous=_draw_spontaneous(rng, group, weak_ear),
        otoscopy=otoscopy,
        inverts=rng.random((count, 2)) < 0.3,
        fixation=rng.normal(0.46, 0.10, count).clip(0.1, 0.95),
        follow_up=np.zeros(count, dtype=np.bool_),
    )


def _draw_gains(rng: np.random.Generator, group: Ints) -> tuple[Floats, Ints]:
    """Each ear's gain, and which ear is weak. Volunteers are not."""
    table = np.array([*GROUPS.values(), (0.0, 0.0, 0.0, 0.0)])
    chance = rng.random(len(group))
    both = chance < table[group, 2]
    one = ~both & (chance < table[group, 1] + table[group, 2])
    side = rng.integers(0, 2, len(group))
    gain = np.ones((len(group), 2))
    gain[np.flatnonzero(one), side[one]] = rng.uniform(0.0, 0.8, one.sum())
    gain[both] = rng.uniform(0.03, 0.30, (both.sum(), 2))
    return gain, np.where(both, 2, np.where(one, side, 3))


def _draw_spontaneous(rng: np.random.Generator, group: Ints, weak_ear: Ints) -> Floats:
    """Spontaneous nystagmus of a few, mostly beating away from the weak ear."""
    table = np.array([*GROUPS.values(), (0.0, 0.0, 0.0, 0.0)])
    present = rng.random(len(group)) < table[group, 3]
    random_side = rng.choice([-1.0, 1.0], len(group))
    away = np.where(weak_ear == 0, -1.0, np.where(weak_ear == 1, 1.0, random_side))
    direction = np.where(rng.random(len(group)) < 0.85, away, random_side)
    return np.asarray(present * direction * rng.gamma(4.0, 1.1, len(group)))


def _first_visits(rng: np.random.Generator, day: Ints) -> Ints:
    """For each visit the subject's first one: itself, or an earlier one at the same clinic."""
    count = len(day)
    first = np.arange(count)
    earlier = np.searchsorted(day, day - FOLLOW_UP_AFTER_DAYS)
    returns = (rng.random(count) < FOLLOW_UP_SHARE) & (earlier > 0)
    parent = (rng.random(count) * earlier).astype(np.int64)
    for visit in np.flatnonzero(returns):
        first[visit] = first[parent[visit]]
    return first


def _follow_up(rng: np.random.Generator, new: People, first: Ints, day: Ints) -> People:
    """Give returning subjects their own traits, older by the time passed and partly recovered."""
    count = len(day)
    kept = {f.name: getattr(new, f.name)[first] for f in fields(People)}
    returns = first != np.arange(count)
    recovery = rng.uniform(0.0, 0.3, count) * returns
    fading = np.where(returns, rng.uniform(0.0, 0.6, count), 1.0)
    spontaneous = kept["spontaneous"] * fading
    birthday = rng.random(count)[first] + (day - day[first]) / 365.25
    return People(
        **kept
        | {
            "age": kept["age"] + birthday.astype(np.int64),
            "gain": kept["gain"] + (1.0 - kept["gain"]) * recovery[:, None],
            "spontaneous": np.where(np.abs(spontaneous) < 1.0, 0.0, spontaneous),
            "follow_up": returns,
        }
    )
