"""What is usual in the network: robust centres and spreads, kept as plain numbers.

Two contrasts with their own robust spread each were chosen over one distance by the minimum
covariance determinant: with 1 in 200 of 100,000 simulated visits marked they find a decimal slip
to a tenth in 89 % against 87 % (two contrasts, one common covariance) and 2 % (with level and
ears as well, where weak ears take all the marks). Over the larger of the two, both together gain
4 points.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Final, Self

import numpy as np
from numpy.typing import NDArray

from analytics.detection.standout_features import (
    RETEST_VARIANCE,
    Contrasts,
    Floats,
    Visits,
    contrasts,
    responses,
    spontaneous_known,
    usual_half_of,
)

CLEAN_SHARE_MARKED: Final = 0.005
# Fewer visits of a kind are compared with all kinds together; fewer in all with nothing.
FEWEST_OF_A_KIND: Final = 200
ALL: Final = "all"
# Median of a squared standard normal; 1 / upper quartile of a normal.
_MEDIAN_CHI2: Final = 0.454936423119572
_MAD_TO_SD: Final = 1.482602218505602
# Survival of the squared distance falls exponentially here (exact for two normal contrasts), so
# the far end is reached from where record faults are still few.
_TAIL_FROM, _TAIL_TO = 0.10, 0.03


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """What is usual in one kind of visits: medium, peak basis, spontaneous nystagmus known or not.

    Centres in retest standard errors; spreads between patients on the log scale, to be added to
    the retest error; ``largest_*`` of the natural logarithm of the strongest response.
    """

    kind: str
    visits: int
    usual_half: float
    warm_cool_centre: float
    warm_cool_spread: float
    direction_centre: float
    direction_spread: float
    largest_centre: float
    largest_spread: float


@dataclass(frozen=True, slots=True)
class Reference:
    """The network's usual visits by kind, and the distance beyond which 1 in 200 lie."""

    visits: int
    distance_limit: float
    kinds: tuple[Usual, ...]

    def to_json(self) -> dict[str, Any]:
        """Plain numbers and words."""
        return asdict(self)

    @classmethod
    def from_json(cls, body: Mapping[str, Any]) -> Self:
        """Read what ``to_json`` wrote.

        Raises ``KeyError`` or ``TypeError`` where it is something else.
        """
        kinds = tuple(Usual(**one) for one in body["kinds"])
        return cls(int(body["visits"]), float(body["distance_limit"]), kinds)


@dataclass(frozen=True, slots=True)
class Against:
    """Each visit's contrasts beside what is usual for its kind, columns of length n.

    NaN where a cell is missing or there is no reference.
    """

    contrasts: Contrasts
    warm_cool_centre: Floats
    warm_cool_sd: Floats
    direction_centre: Floats
    direction_sd: Floats
    largest_centre: Floats
    largest_spread: Floats
    usual_half: Floats

    def warm_cool(self) -> Floats:
        """Distance of the warm-cool contrast in standard deviations."""
        return (self.contrasts.warm_cool - self.warm_cool_centre) / self.warm_cool_sd

    def direction(self) -> Floats:
        """Distance of the contrast of directions in standard deviations."""
        return (self.contrasts.direction - self.direction_centre) / self.direction_sd

    def distance(self) -> Floats:
        """Both together."""
        return np.asarray(np.hypot(self.warm_cool(), self.direction()))


def fit_reference(visits: Visits) -> Reference:
    """The reference of a network from its own visits, record faults among them.

    Visits with a cell missing are passed over. With fewer than ``FEWEST_OF_A_KIND`` in all it
    knows no kind, and nothing can be compared with it.
    """
    whole = np.asarray(np.isfinite(visits.peaks).all(axis=1), np.bool_)
    four, kinds = responses(visits), kinds_of(visits)
    names = np.unique(kinds[whole])
    groups = {str(name): np.asarray(whole & (kinds == name)) for name in names}
    groups |= _known_or_not(visits, whole)
    usual = tuple(
        _usual(name, four[rows])
        for name, rows in sorted(groups.items())
        if rows.sum() >= FEWEST_OF_A_KIND
    )
    plain = Reference(int(whole.sum()), math.sqrt(-2.0 * math.log(CLEAN_SHARE_MARKED)), usual)
    distance = compare(visits, plain).distance()
    known = distance[np.isfinite(distance)]
    if len(known) < FEWEST_OF_A_KIND:
        return plain
    return Reference(plain.visits, _far_end(known), usual)


def kinds_of(visits: Visits) -> NDArray[np.str_]:
    """The kind of each visit as a word: medium, peak basis, spontaneous nystagmus."""
    known = np.where(spontaneous_known(visits), "known", "unknown")
    rows = zip(visits.medium, visits.peak_basis, known, strict=True)
    return np.array([f"{medium}|{basis}|{sn}" for medium, basis, sn in rows], np.str_)


def compare(visits: Visits, reference: Reference) -> Against:
    """Every visit against its kind, else against all kinds with as much known of nystagmus."""
    table = {one.kind: one for one in reference.kinds}
    found = [table.get(kind) or table.get(_fallback(kind)) for kind in kinds_of(visits)]
    column = {
        name: np.array([math.nan if x is None else getattr(x, name) for x in found], np.float64)
        for name in _NUMBERS
    }
    seen = contrasts(responses(visits), column["usual_half"])
    return Against(
        seen,
        column["warm_cool_centre"],
        _sd(seen.reach, column["warm_cool_spread"]),
        column["direction_centre"],
        _sd(seen.reach, column["direction_spread"]),
        column["largest_centre"],
        column["largest_spread"],
        column["usual_half"],
    )


_NUMBERS: Final = (
    "usual_half",
    "warm_cool_centre",
    "warm_cool_spread",
    "direction_centre",
    "direction_spread",
    "largest_centre",
    "largest_spread",
)


def _known_or_not(visits: Visits, whole: NDArray[np.bool_]) -> dict[str, NDArray[np.bool_]]:
    known = spontaneous_known(visits)
    return {f"{ALL}|{ALL}|known": whole & known, f"{ALL}|{ALL}|unknown": whole & ~known}


def _fallback(kind: str) -> str:
    return f"{ALL}|{ALL}|{kind.rsplit('|', 1)[1]}"


def _usual(kind: str, four: Floats) -> Usual:
    half = usual_half_of(four)
    seen = contrasts(four, np.full(len(four), half))
    warm_cool, direction = float(np.median(seen.warm_cool)), float(np.median(seen.direction))
    largest = np.log(np.maximum(four.max(axis=1), 1.0))
    middle = float(np.median(largest))
    return Usual(
        kind=kind,
        visits=len(four),
        usual_half=half,
        warm_cool_centre=warm_cool,
        warm_cool_spread=_between_patients(seen.warm_cool - warm_cool, seen.reach),
        direction_centre=direction,
        direction_spread=_between_patients(seen.direction - direction, seen.reach),
        largest_centre=middle,
        largest_spread=float(np.median(np.abs(largest - middle))) * _MAD_TO_SD,
    )


def _between_patients(off: Floats, reach: Floats) -> float:
    """The spread between patients that brings the median squared distance to a normal's.

    0 where the retest error alone explains what is seen.
    """
    low, high = 0.0, 4.0
    for _ in range(50):
        middle = (low + high) / 2.0
        too_far = np.median(off**2 / _sd(reach, np.full(len(reach), middle)) ** 2) > _MEDIAN_CHI2
        low, high = (middle, high) if too_far else (low, middle)
    return low


def _sd(reach: Floats, spread: Floats) -> Floats:
    return np.asarray(np.sqrt(RETEST_VARIANCE + spread**2 * reach))


def _far_end(distance: Floats) -> float:
    """Distance beyond which 1 in 200 clean visits lie, from the tail nearer in."""
    near, far = np.quantile(distance**2, [1.0 - _TAIL_FROM, 1.0 - _TAIL_TO])
    per_log = (far - near) / math.log(_TAIL_FROM / _TAIL_TO)
    return math.sqrt(far + per_log * math.log(_TAIL_TO / CLEAN_SHARE_MARKED))
