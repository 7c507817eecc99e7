"""The constants of control charts, printed under each chart that uses them.

c4, A3, B3 and B4 as Montgomery, Introduction to Statistical Quality Control, appendix VI.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gammaln

Floats = NDArray[np.float64]

# Mean moving range of two normal values over their SD. Textbooks round 2 / root pi = 1.12838;
# the rounded one is kept, so that limits agree with theirs in the third decimal.
D2: Final = 1.128
# Upper limit of a moving range over the mean moving range.
D4: Final = 3.267
# Half the width of limits, in standard deviations of what is plotted.
WIDTH: Final = 3.0


def c4(sizes: ArrayLike) -> Floats:
    """Mean SD of ``sizes`` normal values over their true SD.

    :raises ValueError: for a size below 2, which has no SD.
    """
    n = np.asarray(sizes, dtype=np.float64)
    if np.any(n < 2):
        raise ValueError(f"a subgroup has at least 2 values: {n[n < 2].flat[0]:g}")
    factor: Floats = np.sqrt(2 / (n - 1)) * np.exp(gammaln(n / 2) - gammaln((n - 1) / 2))
    return factor


def a3(sizes: ArrayLike) -> Floats:
    """Half the width of limits of subgroup means, over the mean SD: 3 / (c4 root n)."""
    return WIDTH / (c4(sizes) * np.sqrt(np.asarray(sizes, dtype=np.float64)))


def b3(sizes: ArrayLike) -> Floats:
    """Lower limit of subgroup SDs over their mean, not below 0."""
    return np.maximum(0.0, 1 - WIDTH * _relative_spread_of_sds(sizes))


def b4(sizes: ArrayLike) -> Floats:
    """Upper limit of subgroup SDs over their mean."""
    return 1 + WIDTH * _relative_spread_of_sds(sizes)


def _relative_spread_of_sds(sizes: ArrayLike) -> Floats:
    factor = c4(sizes)
    spread: Floats = np.sqrt(1 - factor**2) / factor
    return spread
