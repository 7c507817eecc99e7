"""How far a result lies from an assigned value, in the units of what may be expected.

The four scores of ISO 13528 (formulas from memory). Arguments are single numbers or arrays of
one shape; an answer is NaN where something is missing or there is nothing to divide by.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def z_score(result: ArrayLike, assigned: ArrayLike, sd: ArrayLike) -> Floats:
    """(x - assigned)/sd, with ``sd`` the SD that is expected of such results."""
    return _apart(result, assigned, sd)


def z_prime_score(
    result: ArrayLike, assigned: ArrayLike, *, sd: ArrayLike, assigned_u: ArrayLike
) -> Floats:
    """As ``z_score``, the standard uncertainty of the assigned value counted with the SD."""
    return _apart(result, assigned, sd, assigned_u)


def zeta_score(
    result: ArrayLike, assigned: ArrayLike, *, result_u: ArrayLike, assigned_u: ArrayLike
) -> Floats:
    """Distance in the standard uncertainties of the result itself and of the assigned value."""
    return _apart(result, assigned, result_u, assigned_u)


def en_score(
    result: ArrayLike,
    assigned: ArrayLike,
    *,
    result_expanded: ArrayLike,
    assigned_expanded: ArrayLike,
) -> Floats:
    """E_n: as zeta, but with expanded uncertainties (U = 2u): beyond 1 they do not explain it."""
    return _apart(result, assigned, result_expanded, assigned_expanded)


def _apart(result: ArrayLike, assigned: ArrayLike, *spreads: ArrayLike) -> Floats:
    together = np.zeros(())
    for spread in spreads:
        given = np.asarray(spread, np.float64)
        if (given < 0).any():
            raise ValueError(f"a standard deviation or uncertainty is negative: {given.min()}")
        together = together + given**2
    distance = np.asarray(result, np.float64) - np.asarray(assigned, np.float64)
    told = np.isfinite(distance) & np.isfinite(together) & (together > 0)
    size = np.sqrt(np.where(told, together, 1.0))
    return np.where(told, np.where(told, distance, 0.0) / size, np.nan)
