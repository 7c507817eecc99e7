"""Many testers and many measures looked at together: how many marks chance alone would give."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class FalseDiscovery:
    """What stands out of many tests at a false discovery rate of ``rate``.

    ``q`` (NaN for a test that was not made) is the smallest rate at which a test stands out;
    ``stands_out`` where that is at most ``rate``. ``tests`` counts the tests made.
    """

    q: Floats
    stands_out: Flags
    tests: int
    rate: float


@dataclass(frozen=True, slots=True)
class ChanceMarks:
    """Marks to expect of tests in which nothing differs, and how few or many would be usual.

    ``low`` to ``high`` holds at least 95 % of such rounds if the tests are independent.
    """

    tests: int
    probability: float
    expected: float
    low: int
    high: int


def benjamini_hochberg(
    p_values: ArrayLike, *, rate: float = 0.05, weights: ArrayLike | None = None
) -> FalseDiscovery:
    """Benjamini & Hochberg, JRSS-B 1995;57:289-300, with or without weights.

    With weights each p is divided by its weight first; the weights, not negative and of the same
    shape, are scaled to average one over the tests made (Genovese, Roeder & Wasserman, Biometrika
    2006;93:509-524, from memory). A test of weight 0 never stands out. NaN is a test not made.
    """
    if not 0 < rate < 1:
        raise ValueError(f"the rate must lie between 0 and 1, not {rate}")
    p = np.asarray(p_values, np.float64)
    made = np.isfinite(p)
    if ((p < 0) | (p > 1))[made].any():
        raise ValueError("p values must lie between 0 and 1")
    q = np.full(p.shape, np.nan)
    if made.any():
        weight = _weights(weights, made)
        # A weight of 0 makes a p of 1 of anything: q cannot pass 1 anyway.
        divided = np.where(weight > 0, p[made] / np.where(weight > 0, weight, 1), np.inf)
        q[made] = stats.false_discovery_control(np.minimum(divided, 1.0), method="bh")
        q[made] = np.where(weight > 0, q[made], 1.0)
    return FalseDiscovery(q, np.where(made, q, 1.0) <= rate, int(made.sum()), rate)


def expected_chance_marks(tests: int, probability: float) -> ChanceMarks:
    """Marks that chance alone gives in ``tests`` tests of tail ``probability`` each."""
    if tests < 0 or not 0 <= probability <= 1:
        raise ValueError(f"{tests} tests of probability {probability}")
    low, high = (int(stats.binom.ppf(share, tests, probability)) for share in (0.025, 0.975))
    # The percent point of nothing at all is -1.
    return ChanceMarks(tests, probability, tests * probability, max(low, 0), max(high, 0))


def _weights(weights: ArrayLike | None, made: Flags) -> Floats:
    if weights is None:
        return np.ones(int(made.sum()))
    given = np.asarray(weights, np.float64)
    if given.shape != made.shape:
        raise ValueError(f"weights have shape {given.shape}, the p values {made.shape}")
    used = given[made]
    if not np.isfinite(used).all() or (used < 0).any() or not used.sum() > 0:
        raise ValueError("weights must be finite, not negative, and not all 0")
    scaled: Floats = used / used.mean()
    return scaled
