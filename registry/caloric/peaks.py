"""From single beats to the peak of a response: method ``computed_v1``.

No method is standard, so each result carries its basis and bases are never pooled silently.
The mean over 10 s follows Takemori, Ann Otol Rhinol Laryngol 1977;86:80-85; the search from 30
to 120 s covers the culmination at 60-90 s and the level phase until 110-130 s of Int J Pediatr
Otorhinolaryngol 1999;50:169-176.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from registry.caloric.visit import Beats, Irrigation

Floats = NDArray[np.float64]

WINDOW_S: Final = 10.0
MIN_KEPT_BEATS: Final = 5
NEIGHBOURS: Final = 7
# 1.4826 makes the MAD of normal data equal their SD.
SCALED_MADS: Final = 3 * 1.4826
# Seven beats of which four are equal (speeds rounded to whole deg/s) have a MAD of 0, and any
# honest neighbour would be thrown out; there a beat must be this far off, in deg/s.
STEP_WHEN_MAD_IS_ZERO: Final = 1.0
# One window a second: neighbours share nine tenths of their time, and a fixed grid gives the
# same answer whichever beats happen to be there.
CENTRES_S: Final[Floats] = np.arange(30.0, 121.0, 1.0)
# No eye is driven faster than this (deg/s; common practice, no source), and no peak sent may be.
FASTEST_PEAK: Final = 200.0
_TOLERANCE: Final = 1e-9
_EARLIEST: Final[Floats] = CENTRES_S - WINDOW_S / 2 - _TOLERANCE
_LATEST: Final[Floats] = CENTRES_S + WINDOW_S / 2 + _TOLERANCE


@dataclass(frozen=True, slots=True)
class BeatPeak:
    """Peak read from the beats. ``reason`` says why there is none.

    ``too_few_beats``, or ``beats_too_fast``: their mean lies beyond ``FASTEST_PEAK``.

    ``peak_spv`` and ``se`` in deg/s (raw signed mean, SD/sqrt(n)), ``culmination_time_s`` the
    centre of the window, ``kept_beats`` how many beats of the whole response were kept.
    """

    peak_spv: float | None
    se: float | None
    culmination_time_s: float | None
    kept_beats: int
    reason: str | None


def peak_from_beats(irrigation: Irrigation, *, spontaneous_level: float) -> BeatPeak | None:
    """Peak of one response by ``computed_v1``; ``None`` where no beats were sent.

    Beats during fixation are left out, then those more than 3 scaled MADs from the median of
    the seven around them. Of the 10-s windows (both ends included) centred at each whole second
    from 30 to 120 s after onset, with at least 5 kept beats, the one whose mean lies farthest
    from ``spontaneous_level`` is taken (the earliest of equals). Choosing by plain magnitude
    would lock onto a spontaneous nystagmus over a weak ear.
    """
    if irrigation.beats is None:
        return None
    times, speeds = _kept(irrigation.beats, irrigation.fixation_from_s, irrigation.fixation_to_s)
    first = np.searchsorted(times, _EARLIEST, side="left")
    beyond = np.searchsorted(times, _LATEST, side="right")
    enough = beyond - first >= MIN_KEPT_BEATS
    if not enough.any():
        return BeatPeak(None, None, None, len(times), "too_few_beats")
    sums = np.concatenate(([0.0], np.cumsum(speeds)))
    means = (sums[beyond] - sums[first]) / np.maximum(beyond - first, 1)
    distance = np.where(enough, np.abs(means - spontaneous_level), -1.0)
    # Within rounding of the best is as good as it: else a constant added to all beats could
    # move the culmination time.
    chosen = int(np.argmax(distance >= distance.max() - _TOLERANCE))
    window = speeds[first[chosen] : beyond[chosen]]
    if abs(window.mean()) > FASTEST_PEAK:
        return BeatPeak(None, None, None, len(times), "beats_too_fast")
    return BeatPeak(
        peak_spv=float(window.mean()),
        se=float(window.std(ddof=1)) / len(window) ** 0.5,
        culmination_time_s=float(CENTRES_S[chosen]),
        kept_beats=len(times),
        reason=None,
    )


def _kept(beats: Beats, fixation_from: float | None, fixation_to: float | None) -> list[Floats]:
    times, speeds = np.array(beats.time_s, float), np.array(beats.spv, float)
    if fixation_from is not None and fixation_to is not None:
        dark = (times < fixation_from) | (times > fixation_to)
        times, speeds = times[dark], speeds[dark]
    good = _near_their_neighbours(speeds)
    return [times[good], speeds[good]]


def _near_their_neighbours(speeds: Floats) -> NDArray[np.bool_]:
    """True for each beat within 3 scaled MADs of the median of the seven beats around it.

    Near either end the seven are the first or last seven; of fewer than seven, all.
    """
    if len(speeds) == 0:
        return np.zeros(0, dtype=np.bool_)
    width = min(NEIGHBOURS, len(speeds))
    groups = np.lib.stride_tricks.sliding_window_view(speeds, width)
    median = _median_of_rows(groups)
    mad = _median_of_rows(np.abs(groups - median[:, None]))
    limit = np.where(mad > _TOLERANCE, SCALED_MADS * mad, STEP_WHEN_MAD_IS_ZERO)
    around = np.clip(np.arange(len(speeds)) - width // 2, 0, len(groups) - 1)
    near: NDArray[np.bool_] = np.abs(speeds - median[around]) <= limit[around] + _TOLERANCE
    return near


def _median_of_rows(rows: Floats) -> Floats:
    # Sorting seven numbers a row is several times quicker than np.median's general path.
    ordered = np.sort(rows, axis=1)
    middle = rows.shape[1] // 2
    if rows.shape[1] % 2:
        return ordered[:, middle]
    halfway: Floats = (ordered[:, middle - 1] + ordered[:, middle]) / 2
    return halfway
