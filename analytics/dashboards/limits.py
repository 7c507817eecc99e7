"""The limits of chance of every measure in a network, from a year of its sums."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from analytics.dashboards.disclosure import large_enough
from analytics.detection.tallies import Tallies
from analytics.measures import Measure, catalogue
from analytics.statistics.funnel import Funnel, mean_funnel, proportion_funnel
from analytics.statistics.funnel_limits import MeanLimits, ShareLimits
from analytics.statistics.overdispersion import Overdispersion
from analytics.statistics.proportions import Band

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

YEAR_MONTHS: Final = 12


@dataclass(frozen=True, eq=False)
class Year:
    """One measure over the last twelve complete months; arrays have one entry a subject.

    ``centre`` is the network's, ``clinics`` those with enough visits to count as others.
    ``n``, ``value``, ``se``: occasions, value and standard error; NaN where nothing is known.
    """

    kind: str
    measure: Measure
    subjects: tuple[Hashable, ...]
    subject_clinics: NDArray[np.int64]
    n: Floats
    visits: Floats
    value: Floats
    se: Floats
    sigma2: float
    funnel: Funnel
    clinics: frozenset[int]

    @property
    def centre(self) -> float | None:
        return self.funnel.target

    @property
    def shown(self) -> Flags:
        """Subjects with a dot: enough visits, and a value."""
        return self.funnel.judged

    @property
    def too_few(self) -> int:
        """How many subjects have visits, but too few."""
        return int(((self.n > 0) & ~self.shown).sum())

    def at(self, n: Floats, level: float) -> Band:
        """The limits of chance at ``n`` occasions, NaN where there can be none."""
        n = np.where(n > 0, n, np.nan)
        if self.measure.kind == "share":
            return ShareLimits(self.centre, self.funnel.adjustment, self._found).at(n, level)
        errors = np.sqrt(self.sigma2 / n)
        return MeanLimits(self.centre, self.funnel.adjustment, self._found).at(errors, level)

    @property
    def _found(self) -> Overdispersion:
        return self.funnel.overdispersion


def years_of(
    kind: str, tallies: Tallies, visits: Floats, parameters: Mapping[str, Any] | None
) -> dict[str, Year]:
    """The last year by measure; ``visits`` (subjects, months), ``parameters`` those of a build."""
    return {
        name: _year(
            kind, catalogue()[name], tallies, at, visits, (parameters or {}).get(name) or {}
        )
        for at, name in enumerate(tallies.measures)
    }


def ratio(above: Floats, below: Floats) -> Floats:
    """above / below, NaN where nothing is below."""
    found: Floats = np.divide(above, below, out=np.full(below.shape, np.nan), where=below > 0)
    return found


def _year(
    kind: str,
    measure: Measure,
    tallies: Tallies,
    at: int,
    visits: Floats,
    parameters: Mapping[str, Any],
) -> Year:
    part = np.s_[at, :, -YEAR_MONTHS:]
    n, s, ss = (getattr(tallies, name)[part].sum(axis=1) for name in ("n", "s", "ss"))
    year_visits = visits[:, -YEAR_MONTHS:].sum(axis=1)
    enough = large_enough(n, year_visits) & (n >= measure.minimum_visits)
    value = ratio(s, n)
    sigma2 = parameters.get("sigma2") or _pooled_variance(n, s, ss)
    se = _errors(measure, n, value, sigma2)
    target = parameters.get("centre")
    funnel = _funnel(measure, np.where(enough, n, 0.0), np.where(enough, s, 0.0), sigma2, target)
    return Year(
        kind=kind,
        measure=measure,
        subjects=tallies.testers,
        subject_clinics=tallies.clinics,
        n=n,
        visits=year_visits,
        value=value,
        se=se,
        sigma2=sigma2,
        funnel=funnel,
        clinics=_clinics(tallies.clinics, n, year_visits),
    )


def _funnel(measure: Measure, n: Floats, s: Floats, sigma2: float, target: float | None) -> Funnel:
    if measure.kind == "share":
        return proportion_funnel(np.clip(s, 0.0, n), n, target=target)
    errors = np.sqrt(ratio(np.full(n.shape, sigma2), n))
    return mean_funnel(ratio(s, n), np.where(errors > 0, errors, np.nan), n, target=target)


def _errors(measure: Measure, n: Floats, value: Floats, sigma2: float) -> Floats:
    variance = value * (1.0 - value) if measure.kind == "share" else np.full(n.shape, sigma2)
    safe = np.where(n > 0, n, np.nan)
    return np.sqrt(np.maximum(variance, 0.0) / safe)


def _pooled_variance(n: Floats, s: Floats, ss: Floats) -> float:
    """Variance of single scores within subjects; 0 where there is none to be had."""
    some = n > 1
    free = float((n[some] - 1).sum())
    if free <= 0:
        return 0.0
    return max(0.0, float((ss[some] - s[some] ** 2 / n[some]).sum()) / free)


def _clinics(clinics: NDArray[np.int64], n: Floats, visits: Floats) -> frozenset[int]:
    """Clinics with enough of this measure in the year, all their subjects together."""
    return frozenset(
        int(one)
        for one in np.unique(clinics)
        if large_enough(n[clinics == one].sum()[None], visits[clinics == one].sum()[None])[0]
    )
