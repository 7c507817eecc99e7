"""When the testers of a clinic move together it is the clinic that moved, not each of them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def joint_move(
    difference: Floats, variance: Floats, membership: Floats, *, from_distance: float
) -> tuple[Floats, Floats]:
    """How much of each difference the colleagues share, and the variance of that figure.

    ``difference`` and ``variance`` have testers on the last axis, NaN where unknown;
    ``membership`` is (testers, clinics) of 0 and 1. The colleagues' mean (the tester left out)
    counts where it lies beyond ``from_distance`` of its own standard error and on the same side;
    it is never more than the difference itself. 0 and 0 elsewhere, and for a tester alone.

    Taking off the colleagues' mean always would cost power: their chance would be added to the
    tester's own. Taking it off where they moved costs nothing while they did not.
    """
    known = np.isfinite(difference) & np.isfinite(variance) & (variance > 0)
    weight = np.where(known, 1.0 / np.where(known, variance, 1.0), 0.0)
    weighted = weight * np.where(known, difference, 0.0)
    others = (weight @ membership) @ membership.T - weight
    sums = (weighted @ membership) @ membership.T - weighted
    some = others > 1e-9 * np.maximum(weight, 1e-300)
    doubt = np.where(some, 1.0 / np.where(some, others, 1.0), 0.0)
    mean = np.where(some, sums, 0.0) * doubt
    together = known & some & (np.abs(mean) > from_distance * np.sqrt(doubt))
    together &= np.sign(mean) == np.sign(difference)
    size = np.minimum(np.abs(mean), np.abs(np.where(known, difference, 0.0)))
    return np.where(together, np.sign(mean) * size, 0.0), np.where(together, doubt, 0.0)
