"""Sums of a set of numbers that merge exactly, and histograms that merge without any error.

Chan, Golub & LeVeque 1979 for the variance, Pebay, SAND2008-6212, for the third and fourth
moments (formulas from memory, checked against certified values).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from functools import reduce

import numpy as np
from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True)
class Moments:
    """Number, mean, sums of powers of the distance from the mean, smallest and largest.

    ``m2``, ``m3`` and ``m4`` are sums, not averages. An empty set has ``n`` 0 and ``None`` as
    ``mean``, ``low`` and ``high``.
    """

    n: int = 0
    mean: float | None = None
    m2: float = 0.0
    m3: float = 0.0
    m4: float = 0.0
    low: float | None = None
    high: float | None = None

    @property
    def variance(self) -> float | None:
        """With n - 1 below; ``None`` for fewer than two values."""
        return self.m2 / (self.n - 1) if self.n >= 2 else None

    @property
    def sd(self) -> float | None:
        """Root of the variance."""
        return None if self.variance is None else math.sqrt(self.variance)

    @property
    def skewness(self) -> float | None:
        """Third moment over the 3/2 power of the second; ``None`` where the values are equal."""
        return math.sqrt(self.n) * self.m3 / self.m2**1.5 if self.m2 > 0 else None

    @property
    def excess_kurtosis(self) -> float | None:
        """Fourth moment over the square of the second, less 3; ``None`` for equal values."""
        return self.n * self.m4 / self.m2**2 - 3 if self.m2 > 0 else None


def moments(values: ArrayLike) -> Moments:
    """Moments of the finite values of an array of any shape."""
    x = np.asarray(values, np.float64).ravel()
    x = x[np.isfinite(x)]
    if len(x) == 0:
        return Moments()
    # Around one of the values first, so that digits of large numbers close together are kept.
    origin = x[0]
    mean = origin + (x - origin).mean()
    away = x - mean
    # The sum of distances is not quite 0 in floating point; its square is taken off.
    m2 = float((away**2).sum() - away.sum() ** 2 / len(x))
    return Moments(
        n=len(x),
        mean=float(mean),
        m2=max(m2, 0.0),
        m3=float((away**3).sum()),
        m4=float((away**4).sum()),
        low=float(x.min()),
        high=float(x.max()),
    )


def merge(one: Moments, other: Moments) -> Moments:
    """Moments of both sets together; the order does not matter beyond rounding."""
    if one.mean is None or one.low is None or one.high is None:
        return other
    if other.mean is None or other.low is None or other.high is None:
        return one
    a, b, n = one.n, other.n, one.n + other.n
    d = other.mean - one.mean
    m2 = one.m2 + other.m2 + d**2 * a * b / n
    m3 = one.m3 + other.m3 + d**3 * a * b * (a - b) / n**2
    m3 += 3 * d * (a * other.m2 - b * one.m2) / n
    m4 = one.m4 + other.m4 + d**4 * a * b * (a**2 - a * b + b**2) / n**3
    m4 += 6 * d**2 * (a**2 * other.m2 + b**2 * one.m2) / n**2
    m4 += 4 * d * (a * other.m3 - b * one.m3) / n
    low, high = min(one.low, other.low), max(one.high, other.high)
    return Moments(n, one.mean + d * b / n, m2, m3, m4, low, high)


def merge_all(parts: Iterable[Moments]) -> Moments:
    """Moments of any number of sets together; of none, the empty set."""
    return reduce(merge, parts, Moments())


@dataclass(frozen=True, slots=True)
class Histogram:
    """Counts of values on a grid: ``counts`` holds (whole steps, how many), in order.

    A value is a whole number of ``step``, so merged counts are those of all values at once.
    """

    step: Decimal
    counts: tuple[tuple[int, int], ...] = ()

    @property
    def n(self) -> int:
        """How many values."""
        return sum(many for _, many in self.counts)

    @property
    def mean(self) -> float | None:
        """Exact mean, rounded once; ``None`` where there are no values."""
        total = sum(steps * many for steps, many in self.counts)
        return float(self.step * total / self.n) if self.counts else None

    def quantile(self, share: float) -> float | None:
        """Smallest value that at least ``share`` of the values do not pass; no interpolation."""
        if not 0 <= share <= 1:
            raise ValueError(f"a share must lie between 0 and 1, not {share}")
        # As numpy's inverted_cdf: a product a rounding above a whole number is that number.
        wanted, reached = max(math.ceil(share * self.n - 1e-9), 1), 0
        for steps, many in self.counts:
            reached += many
            if reached >= wanted:
                return float(self.step * steps)
        return None


def histogram(values: ArrayLike, *, step: str | Decimal = "1") -> Histogram:
    """Histogram of the finite values; ``ValueError`` for one that is no multiple of ``step``."""
    size = Decimal(step)
    if not size.is_finite() or size <= 0:
        raise ValueError(f"a step must be above 0, not {step}")
    x = np.asarray(values, np.float64).ravel()
    x = x[np.isfinite(x)]
    steps = x / float(size)
    whole = np.round(steps)
    off = np.abs(steps - whole) > 1e-3
    if off.any():
        raise ValueError(f"{x[off][0]} is no multiple of {size}")
    found, many = np.unique(whole.astype(np.int64), return_counts=True)
    return Histogram(size, tuple(zip(found.tolist(), many.tolist(), strict=True)))


def merge_histograms(one: Histogram, other: Histogram) -> Histogram:
    """Histogram of both together; ``ValueError`` where their steps differ."""
    if one.step != other.step:
        raise ValueError(f"steps of {one.step} and {other.step} do not merge")
    together = Counter(dict(one.counts)) + Counter(dict(other.counts))
    return Histogram(one.step, tuple(sorted(together.items())))
