"""How far a smoothed deviation may wander before an irrigator is said to have changed.

The figures are simulated, not published: clean irrigators read over two years after an
adjustment, noise and wander as in ``EXPECTED``, noise estimated from the readings themselves as
``drift_statistic`` does. At these limits two stimuli together give 0.4 signals per 100
irrigator-years. ``analytics.simulation.irrigators.simulate_limit`` makes them again.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

FALSE_PER_100_IRRIGATOR_YEARS: Final = 0.4
STIMULI: Final = 2
# (readings a month, limit in standard errors of the smoothed deviation)
LIMITS: Final[tuple[tuple[float, float], ...]] = (
    (1.0, 3.76),
    (2.0, 4.00),
    (4.0, 4.10),
    (8.0, 4.22),
    (20.0, 4.37),
)


@dataclass(frozen=True, slots=True)
class Expected:
    """What a sound irrigator's readings do, in Cel.

    ``reading_noise`` is the SD from one reading to the next, ``wander`` the SD of a slow swing
    whose correlation is halved every month. Both are assumptions until a network has estimated
    its own; readings of the irrigator at hand move the noise (``PRIOR_READINGS``), not the
    wander, which a year of readings cannot tell from a drift.
    """

    reading_noise: float = 0.1
    wander: float = 0.03


EXPECTED: Final = Expected()
# The expected noise counts as much as this many readings (chosen by trying, no source).
PRIOR_READINGS: Final = 10.0


def smoothing_weight(readings_per_month: float) -> float:
    """Weight of the newest reading in the moving average (chosen by simulation, no source).

    0.3 up to 2 readings a month, 0.2 at 4 to 8, 0.1 at about 20; the steps lie half way.
    """
    if readings_per_month < 3.0:
        return 0.3
    return 0.2 if readings_per_month < 13.0 else 0.1


def limit_at(readings_per_month: float) -> float:
    """Limit in standard errors, between the simulated rates along the logarithm of the rate.

    Raises ``ValueError`` for a rate that is not above 0.
    """
    if not readings_per_month > 0:
        raise ValueError(f"readings per month must be above 0, not {readings_per_month}")
    rates, limits = zip(*LIMITS, strict=True)
    return float(np.interp(np.log(readings_per_month), np.log(rates), limits))
