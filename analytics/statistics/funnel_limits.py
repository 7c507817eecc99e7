"""The limits of a funnel at any size, for shares and for means, adjusted or not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from analytics.statistics.adjustment import Adjustment
from analytics.statistics.overdispersion import Overdispersion
from analytics.statistics.proportions import (
    Band,
    interpolated_binomial_limits,
    normal_limits,
    two_sided_z,
)
from analytics.statistics.transforms import arcsine, share_of_anscombe

Floats = NDArray[np.float64]

# Nearer to a whole count than this is that count.
_TIE: Final = 1e-9


@dataclass(frozen=True, slots=True)
class ShareLimits:
    """Limits of shares at numbers of trials.

    Unadjusted: the interpolated binomial ones. Multiplicative: normal, the variance times phi
    (never below 1). Additive: normal on the scale of Anscombe's angles, with tau2 beside the
    variance of chance; on plain angles no event in 30 trials lies below the 95 % line at 5 %.
    """

    target: float | None
    adjustment: Adjustment
    found: Overdispersion

    def at(self, trials: Floats, level: float) -> Band:
        """The limits between which the middle ``level`` of units of these sizes lie."""
        if self.target is None:
            return no_band(trials)
        if self.adjustment is Adjustment.NONE:
            return interpolated_binomial_limits(trials, target=self.target, level=level)
        if self.adjustment is Adjustment.MULTIPLICATIVE:
            return normal_limits(trials, target=self.target, level=level, phi=_phi(self.found))
        reach = two_sided_z(level) * np.sqrt(1 / (4 * trials + 2) + (self.found.tau2 or 0.0))
        angle = arcsine(self.target)
        return Band(
            share_of_anscombe(angle - reach, trials), share_of_anscombe(angle + reach, trials)
        )

    def chance(self, trials: Floats, level: float) -> float:
        """How many units of these sizes lie outside by chance.

        Unadjusted, the binomial's own chances are added up: with few trials no count may lie below
        the lower line, and the counts above the upper one may hold more than their nominal share.
        """
        if self.target is None:
            return 0.0
        if self.adjustment is not Adjustment.NONE:
            return len(trials) * (1 - level)
        band = self.at(trials, level)
        most_below = np.ceil(band.lower * trials - _TIE) - 1
        most_within = np.floor(band.upper * trials + _TIE)
        below = stats.binom.cdf(most_below, trials, self.target)
        above = stats.binom.sf(most_within, trials, self.target)
        return float(np.sum(below) + np.sum(above))


@dataclass(frozen=True, slots=True)
class MeanLimits:
    """Normal limits of means at standard errors; adjusted, the variance times phi or plus tau2."""

    target: float | None
    adjustment: Adjustment
    found: Overdispersion

    def at(self, standard_errors: Floats, level: float) -> Band:
        """The limits between which the middle ``level`` of units with these errors lie."""
        if self.target is None:
            return no_band(standard_errors)
        variance = standard_errors**2
        if self.adjustment is Adjustment.MULTIPLICATIVE:
            variance = variance * _phi(self.found)
        elif self.adjustment is Adjustment.ADDITIVE:
            variance = variance + (self.found.tau2 or 0.0)
        reach = two_sided_z(level) * np.sqrt(variance)
        return Band(self.target - reach, self.target + reach)


def no_band(places: Floats) -> Band:
    """NaN on both sides of every place."""
    return Band(np.full(places.shape, np.nan), np.full(places.shape, np.nan))


def sides(values: Floats, band: Band) -> NDArray[np.int8]:
    """1 above the band, -1 below it, 0 within, on a limit, or where either is missing."""
    above, below = values > band.upper + _TIE, values < band.lower - _TIE
    return above.astype(np.int8) - below.astype(np.int8)


def _phi(found: Overdispersion) -> float:
    return max(1.0, found.phi or 1.0)
