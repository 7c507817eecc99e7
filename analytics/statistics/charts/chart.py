"""One control chart: points, centre, limits, and what belongs in its footer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analytics.statistics.charts.baseline import Standing, standing_of
from analytics.statistics.charts.constants import WIDTH
from analytics.statistics.charts.run_rules import Places, RuleSet

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

TOO_FEW_POINTS = "too_few_points"
NO_VARIATION = "no_variation"


@dataclass(frozen=True, slots=True, eq=False)
class Chart:
    """Points against their limits; every array has one entry a point.

    ``sigma`` is the standard deviation of what is plotted. ``centre``, ``sigma``, ``lower`` and
    ``upper`` are NaN throughout where no limits can be made, and ``reason`` says why:
    ``too_few_points`` or ``no_variation`` in the baseline. ``constants`` and ``estimates`` are
    what the limits were made with, ``notes`` what to be careful about. ``given``: centre and
    spread came from outside and owe nothing to the baseline.
    """

    kind: str
    points: Floats
    centre: Floats
    sigma: Floats
    lower: Floats
    upper: Floats
    baseline: Flags
    rule_set: RuleSet
    constants: Mapping[str, float]
    estimates: Mapping[str, float]
    reason: str | None = None
    notes: tuple[str, ...] = ()
    given: bool = False

    @property
    def baseline_points(self) -> int:
        """How many points the limits were made from."""
        return int(self.baseline.sum())

    @property
    def standing(self) -> Standing:
        """``trial``, ``settling`` or ``firm``, by the number of baseline points.

        Limits that were given are ``firm``: who gives them answers for them.
        """
        return Standing.FIRM if self.given else standing_of(self.baseline_points)

    @property
    def may_alert(self) -> bool:
        """Whether a signal here may raise an alert by itself: from firm limits alone."""
        return self.reason is None and self.standing is Standing.FIRM

    @property
    def z(self) -> Floats:
        """Points in standard deviations from the centre; NaN where there are no limits."""
        return (self.points - self.centre) / self.sigma

    @property
    def signals(self) -> dict[str, Places]:
        """For each rule of the set by code, the places (from 0) of the points that complete it."""
        return self.rule_set.places(self.z)


def limited_chart(
    kind: str,
    points: Floats,
    *,
    centre: float | Floats,
    sigma: float | Floats,
    baseline: Flags,
    rule_set: RuleSet,
    constants: Mapping[str, float],
    estimates: Mapping[str, float],
    floor: float = -np.inf,
    ceiling: float = np.inf,
    width: float = WIDTH,
    notes: tuple[str, ...] = (),
    given: bool = False,
) -> Chart:
    """A chart with limits at ``centre`` +- ``width`` ``sigma``, not beyond floor and ceiling.

    What has no spread has no limits: ``no_variation``.
    """
    middle, spread = (np.broadcast_to(np.asarray(v, float), points.shape) for v in (centre, sigma))
    if not np.any(spread > 0):
        return chart_without_limits(kind, points, baseline, rule_set, NO_VARIATION)
    return Chart(
        kind=kind,
        points=points,
        centre=middle,
        sigma=spread,
        lower=np.maximum(middle - width * spread, floor),
        upper=np.minimum(middle + width * spread, ceiling),
        baseline=baseline,
        rule_set=rule_set,
        constants={"width": width, **constants},
        estimates=estimates,
        notes=notes,
        given=given,
    )


def chart_without_limits(
    kind: str, points: Floats, baseline: Flags, rule_set: RuleSet, reason: str
) -> Chart:
    """The points alone, and why there are no limits."""
    nothing = np.full(points.shape, np.nan)
    return Chart(
        kind, points, nothing, nothing, nothing, nothing, baseline, rule_set, {}, {}, reason
    )
