"""The tabular CUSUM: how far values have wandered from a target, above and below it.

NIST/SEMATECH e-Handbook 6.3.2.3; Page, Biometrika 1954;41:100-115.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analytics.statistics.charts.baseline import (
    Baseline,
    Standing,
    baseline_flags,
    series,
    standing_of,
)
from analytics.statistics.charts.chart import NO_VARIATION, TOO_FEW_POINTS
from analytics.statistics.charts.individuals import estimate_by_ranges
from analytics.statistics.charts.run_rules import Places

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# A sum on the threshold is not beyond it, though rounding may have put it there.
_TIE = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Cusum:
    """Sums at each point; NaN throughout where there is no target or no spread to go by.

    ``high`` and ``low`` are how far values have lately run above and below the target, beyond the
    allowance; ``total`` is the plain sum of the differences. All in units of the values.
    ``threshold`` is what ``high`` and ``low`` may reach; ``None`` with a ``reason``.
    """

    points: Floats
    high: Floats
    low: Floats
    total: Floats
    threshold: float | None
    baseline: Flags
    constants: Mapping[str, float]
    estimates: Mapping[str, float]
    reason: str | None = None
    given: bool = False

    @property
    def standing(self) -> Standing:
        """``trial``, ``settling`` or ``firm``, by the number of baseline points.

        Where target and sigma were given, ``firm``: who gives them answers for them.
        """
        return Standing.FIRM if self.given else standing_of(int(self.baseline.sum()))

    @property
    def may_alert(self) -> bool:
        """Whether a signal here may raise an alert by itself: from firm limits alone."""
        return self.reason is None and self.standing is Standing.FIRM

    @property
    def signals(self) -> dict[str, Places]:
        """Places (from 0) at which the sums are beyond the threshold, ``above`` and ``below``."""
        limit = np.inf if self.threshold is None else self.threshold + _TIE
        return {
            "above": np.flatnonzero(self.high > limit),
            "below": np.flatnonzero(self.low > limit),
        }


def cusum_chart(
    values: ArrayLike,
    *,
    target: float | None = None,
    sigma: float | None = None,
    k: float = 0.5,
    h: float = 5.0,
    baseline: Baseline = None,
    exclude: Sequence[int] = (),
) -> Cusum:
    """Tabular CUSUM with allowance ``k`` and threshold ``h``, both in SDs of single values.

    ``k`` is half the shift to be found. ``target`` and ``sigma`` are those of the baseline, by its
    moving ranges, unless they are given; with ``sigma=1``, k and h are in units of the values.
    At a missing value the sums stand still. They are not put back to 0 after a signal.

    :raises ValueError: for k below 0, or h or sigma not above 0.
    """
    if k < 0 or h <= 0 or (sigma is not None and not sigma > 0):
        raise ValueError(f"k is not below 0, h and sigma are above: {k}, {h}, {sigma}")
    points = series(values)
    flags = baseline_flags(points, baseline, exclude=exclude)
    found = estimate_by_ranges(points, flags)
    middle = found.centre if target is None and found is not None else target
    spread = found.sigma if sigma is None and found is not None else sigma
    if middle is None or not spread:
        nothing = np.full(points.shape, np.nan)
        reason = NO_VARIATION if spread == 0 else TOO_FEW_POINTS
        return Cusum(points, nothing, nothing, nothing, None, flags, {}, {}, reason)
    apart = np.where(np.isfinite(points), points - middle, 0.0)
    allowed = np.where(np.isfinite(points), k * spread, 0.0)
    return Cusum(
        points=points,
        high=_sum_from_zero(apart - allowed),
        low=_sum_from_zero(-apart - allowed),
        total=np.cumsum(apart),
        threshold=h * spread,
        baseline=flags,
        constants={"k": k, "h": h},
        estimates={"target": middle, "sigma": spread},
        given=target is not None and sigma is not None,
    )


def _sum_from_zero(steps: Floats) -> Floats:
    """S = max(0, S + step) from 0: the plain sum above the lowest it has been, or above 0."""
    total = np.cumsum(steps)
    return total - np.minimum(np.minimum.accumulate(total), 0.0)
