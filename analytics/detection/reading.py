"""From distances to what may open an episode: the largest by test, its tail, and its limit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from analytics.detection.discoveries import weighted_q
from analytics.detection.network import Network
from analytics.detection.snapshot import Snapshot

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Reading:
    """Of each test, (channels, measures, testers): change first, then level.

    ``size`` is how far the signed ``z`` lies in the direction that matters, less what the limits
    of its window have added; NaN where there is no test. ``window`` is the place of the window it
    was largest in, ``p`` the tail beyond ``size``.
    """

    z: Floats
    size: Floats
    window: Ints
    p: Floats


def read(network: Network, shot: Snapshot) -> Reading:
    """The largest distance of each test over its windows."""
    added = np.array(network.policy.window_added)[:, None, None]
    size_by_window = _size(network, shot.change_z) - added
    window = np.argmax(np.where(np.isnan(size_by_window), -np.inf, size_by_window), axis=0)
    change = np.take_along_axis(shot.change_z, window[None], axis=0)[0]
    z = np.stack([change, shot.level_z])
    largest = np.take_along_axis(size_by_window, window[None], axis=0)[0]
    size = np.stack([largest, _size(network, shot.level_z)])
    sides = np.where(network.direction == 0, 2.0, 1.0)
    return Reading(z, size, np.stack([window, np.zeros_like(window)]), sides * ndtr(-size))


def discoveries(network: Network, reading: Reading, already_open: Flags) -> Floats:
    """q of each test that is not in an open episode; tests with a lower cap weigh more."""
    p = np.where(already_open, np.nan, reading.p)
    return weighted_q(p, np.broadcast_to(ndtr(-network.caps), p.shape))


def _size(network: Network, z: Floats) -> Floats:
    return np.where(network.direction == 0, np.abs(z), network.direction * z)
