"""Which way a response beats, and how a clinic's system signs it.

Inside the generator a signed speed is positive when the fast phase beats right; the label
an irrigation carries (which a clinic may have wrong) then gives the sign that is sent.
"""

from __future__ import annotations

from typing import Final

EARS: Final = ("right", "left")
STIMULI: Final = ("warm", "cool", "ice")
# Warm beats towards the irrigated ear, cool and ice (supine) away from it.
_EXPECTED: Final = ((1.0, -1.0, -1.0), (-1.0, 1.0, 1.0))


def expected_beat(ear: int, stimulus: int) -> float:
    """1 where the response to this irrigation is expected to beat right, -1 where left."""
    return _EXPECTED[ear][stimulus]


def sent_sign(convention: str, ear: int, stimulus: int) -> float:
    """What a speed that beats right is multiplied by before it is sent."""
    if convention == "right_beating_positive":
        return 1.0
    if convention == "slow_phase_right_positive":
        return -1.0
    return expected_beat(ear, stimulus)
