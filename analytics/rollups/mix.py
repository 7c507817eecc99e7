"""What a patients' mix adds to a score: coefficients of a network, kept by version.

Linear in age, sex, a first acute episode, and the ear irrigated first, fitted within testers (each
tester's own mean taken off), so that a tester with older patients is not taken for a weak one and
a weak tester does not pass for old patients. The expected part is summed in the cells beside the
scores; a new version makes the cells anew.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from analytics.measures import catalogue
from analytics.measures.scores import Score, score
from analytics.models import PatientMix
from analytics.rollups.facts import FactRows
from registry.models import Network

Floats = NDArray[np.float64]

# What each word of ``case_mix`` reads of a visit, centred so that 0 is a usual patient.
TERMS: Final = ("age", "sex", "referral", "first_ear")
# A coefficient from fewer visits is noise; without one the mix is not taken off.
FEWEST_VISITS: Final = 2_000


@dataclass(frozen=True, slots=True)
class Mix:
    """Coefficients by measure and term, in units of the score (of the share) per term."""

    version: int = 0
    coefficients: dict[str, dict[str, float]] = field(default_factory=dict)


def terms_of(rows: FactRows) -> dict[str, Floats]:
    """Each term a value a visit; what is not known counts as usual, that is 0."""
    age = np.clip((rows.facts.age_years - 55.0) / 10.0, -4.0, 3.5)
    found = {
        "age": age,
        "sex": rows.facts.female - 0.5,
        "referral": rows.more["acute"],
        "first_ear": rows.facts.first_ear_right,
    }
    return {name: np.nan_to_num(values, nan=0.0) for name, values in found.items()}


def expected(measure: str, of: Score, rows: FactRows, mix: Mix) -> Floats:
    """What the mix adds to each visit's sum: its deviation from a usual patient's."""
    total = np.zeros(len(rows))
    coefficients = mix.coefficients.get(measure)
    if coefficients:
        terms = terms_of(rows)
        for name, slope in coefficients.items():
            total += slope * terms[name]
    return total * of.n


def mix_latest(network_id: int) -> Mix:
    """The network's newest coefficients; none at all before the first fit."""
    row = PatientMix.objects.filter(network_id=network_id).order_by("-version").first()
    return Mix() if row is None else Mix(row.version, row.coefficients)


def mix_store(network: Network, sums: MixSums, *, reference: dict[str, Any], at: datetime) -> Mix:
    """Keep what ``sums`` give as the network's next version."""
    version = mix_latest(network.pk).version + 1
    coefficients = sums.coefficients()
    PatientMix.objects.create(
        network=network,
        version=version,
        fitted_at=at,
        visits=sums.visits,
        coefficients=coefficients,
        reference=reference,
    )
    return Mix(version, coefficients)


class MixSums:
    """Cross products within testers, gathered clinic by clinic, so that no visit is kept."""

    def __init__(self) -> None:
        self.visits = 0
        self._xx: dict[str, Floats] = {}
        self._xy: dict[str, Floats] = {}
        self._n: dict[str, float] = {}

    def add(self, rows: FactRows) -> None:
        """Add one clinic's visits."""
        if not len(rows):
            return
        self.visits += len(rows)
        terms = terms_of(rows)
        tester = np.unique([str(one) for one in rows.tester_ids], return_inverse=True)[1]
        for measure in catalogue().scored:
            if measure.case_mix:
                columns = [terms[name] for name in measure.case_mix]
                self._add(measure.id, score(measure.id, rows.facts), np.stack(columns), tester)

    def _add(self, measure: str, of: Score, x: Floats, tester: NDArray[Any]) -> None:
        counts = of.n > 0
        y, w = of.s[counts] / of.n[counts], of.n[counts]
        x, tester = x[:, counts], tester[counts]
        both = _within(np.vstack([x, y[None, :]]), w, tester)
        products = (both * w) @ both.T
        self._xx[measure] = self._xx.get(measure, 0.0) + products[:-1, :-1]
        self._xy[measure] = self._xy.get(measure, 0.0) + products[:-1, -1]
        self._n[measure] = self._n.get(measure, 0.0) + float(counts.sum())

    def coefficients(self) -> dict[str, dict[str, float]]:
        """Slopes by measure; a measure of too few visits, or a term that never varies, has none."""
        found: dict[str, dict[str, float]] = {}
        for measure, xx in self._xx.items():
            terms = catalogue()[measure].case_mix
            varies = [place for place in range(len(terms)) if xx[place, place] > 1e-9]
            if self._n[measure] < FEWEST_VISITS or not varies:
                continue
            slopes = np.linalg.lstsq(
                xx[np.ix_(varies, varies)], self._xy[measure][varies], rcond=1e-9
            )[0]
            found[measure] = {
                terms[place]: float(slope) for place, slope in zip(varies, slopes, strict=True)
            }
        return found


def _within(values: Floats, weights: Floats, group: NDArray[Any]) -> Floats:
    """Values with each tester's weighted mean taken off."""
    if not values.shape[1]:
        return values
    total = np.bincount(group, weights)
    means = np.stack(
        [np.bincount(group, row * weights) / np.maximum(total, 1e-12) for row in values]
    )
    return values - means[:, group]
