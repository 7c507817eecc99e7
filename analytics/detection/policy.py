"""What the engine decides by: windows, minima and limits, in one place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """How a network is watched. Every number was tried by simulation (docs/detection-study.md).

    Months unless said otherwise. ``cap_added`` moves all caps of the measures; ``colleagues_from``
    is the distance (standard errors) from which a joint move of the colleagues is taken off.
    """

    windows: tuple[int, ...] = (1, 2, 3, 6, 12)
    # Added to the limits of each window: one month is a new chance every month, twelve are the
    # same chance again, so one limit for all would spend most false marks on single months.
    window_added: tuple[float, ...] = (0.4, 0.2, -0.1, -0.1, -0.3)
    window_visits: int = 5
    past_longest: int = 24
    past_months: int = 3
    past_visits: int = 30
    level_months: int = 12
    level_visits: int = 10
    look_beyond: float = 3.09
    discovery_rate: float = 0.10
    close_under: float = 2.0
    close_builds: int = 2
    cap_added: float = 0.0
    small_cap_added: float = 0.2
    least_subjects: int = 5
    few_testers: int = 40
    few_clinics: int = 10
    colleagues_from: float = 1.64
    take_off_colleagues: bool = True
    wander: bool = True
    caps: bool = True
    # Under this distance by two normal approximations the exact tail is not asked for.
    approximation_until: float = 1.7
    # Variance of honest differences (logit) of a share too rare for the network to tell it:
    # an assumption, of the order of the shares that can.
    rare_share_variance: float = 0.1


DEFAULT: Final = Policy()
# A clinic has no colleagues inside itself, and there are always fewer clinics than testers.
FOR_CLINICS: Final = replace(DEFAULT, few_testers=10, take_off_colleagues=False)
