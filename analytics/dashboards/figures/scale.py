"""In which unit a measure is drawn: the stored score is not always what a reader knows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analytics.measures import Measure

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Scale:
    """From stored values to shown ones; ``reference`` is where a ratio is 0 %.

    ``percent`` is a share times 100, ``ratio`` a natural logarithm as per cent more or less than
    the reference; points and parts of an index stay as they are.
    """

    shown_as: str
    unit: str
    decimals: int
    reference: float = 0.0

    def to(self, values: ArrayLike) -> Floats:
        stored = np.asarray(values, dtype=np.float64)
        if self.shown_as == "percent":
            return stored * 100.0
        if self.shown_as == "ratio":
            return np.expm1(stored - self.reference) * 100.0
        return stored

    def one(self, value: float | None) -> float | None:
        return None if value is None else float(self.to([value])[0])

    def difference(self, value: float | None) -> float | None:
        """A distance on the stored scale as one on the shown scale, from the reference on."""
        return None if value is None else self.one(value + self.reference * self._is_ratio)

    @property
    def _is_ratio(self) -> float:
        return 1.0 if self.shown_as == "ratio" else 0.0


def scale_of(measure: Measure, *, reference: float | None, against: str) -> Scale:
    """The scale of a measure; ``against`` names the reference of a ratio in words."""
    if measure.shown_as == "percent":
        return Scale("percent", "%", 1)
    if measure.shown_as == "ratio":
        return Scale("ratio", f"% more or less than {against}", 1, reference or 0.0)
    if measure.shown_as == "ratio_points":
        return Scale("ratio_points", "of the fixation index", 3)
    return Scale("points", "points", 2)


def occasions(measure: Any) -> str:
    """What the n of a measure counts."""
    return str(measure.unit) if measure.kind == "share" else "visits"
