"""What is assumed of an invented network. Every number is an assumption until a registry tells."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

# Share of visits (or occasions) in which it happens in an ordinary clinic. Assumptions.
USUAL: Final = MappingProxyType(
    {
        "incomplete": 0.06,
        "repeats_avoidable": 0.06,
        "repeats_indicated": 0.043,
        "repeats_without_reason": 0.15,
        "fixation_recorded": 0.85,
        "rest_kept": 0.92,
        "duration_kept": 0.96,
        "reported_differs": 0.03,
        "peak_differs": 0.03,
        "inverts": 0.004,
        "check_current": 0.94,
        "after_failed": 0.02,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """SDs of honest differences: between clinics, between a clinic's testers, month to month."""

    clinic: float
    tester: float
    wander: float


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """A network before anybody does anything wrong.

    Balance and direction in half log differences (0.01 is about one point of percentage), level
    and warm/cool in log units, ``shares`` in logits, ``fixation`` in units of the index. Wander
    is a month's standard deviation of a tester about the own usual; what is left of it a month
    later is ``wander_kept``.
    """

    testers: int = 100
    clinics: int = 25
    irrigators: int = 30
    months: int = 24
    visits_from: float = 12.0
    visits_to: float = 40.0
    balance: Spread = field(default=Spread(clinic=0.006, tester=0.012, wander=0.005))
    direction: Spread = field(default=Spread(clinic=0.006, tester=0.012, wander=0.005))
    level: Spread = field(default=Spread(clinic=0.06, tester=0.05, wander=0.025))
    warm_cool: Spread = field(default=Spread(clinic=0.04, tester=0.02, wander=0.02))
    noise: Spread = field(default=Spread(clinic=0.03, tester=0.05, wander=0.02))
    shares: Spread = field(default=Spread(clinic=0.25, tester=0.30, wander=0.12))
    fixation: Spread = field(default=Spread(clinic=0.015, tester=0.015, wander=0.006))
    upload: Spread = field(default=Spread(clinic=0.30, tester=0.20, wander=0.10))
    irrigator_level: float = 0.02
    irrigator_warm_cool: float = 0.02
    wander_kept: float = 0.7
    wander_times: float = 1.0
    # Degrees of freedom of the testers' honest differences; 0: normal.
    tester_tails: float = 0.0
    first_stronger_share: float = 0.15
    whole_number_clinics: float = 0.12
    beats_clinics: float = 0.5
    reported_clinics: float = 0.8


ORDINARY: Final = World()
