"""Figures as a reader meets them: with a unit, and with a direction in words for their sign.

Nothing is computed here; a number is rounded and its sign is said.
"""

from __future__ import annotations

from typing import Final

from registry.caloric.responses import expected_beat_direction
from registry.caloric.visit import Irrigation

LEFT_RIGHT: Final = ("lower on the left", "lower on the right")
BEATING: Final = ("stronger right-beating", "stronger left-beating")
SHIFTED: Final = ("towards right-beating", "towards left-beating")
WARM_COOL: Final = ("stronger warm", "stronger cool")

# What the sign of each percentage means: (above zero, below zero).
SIGN_WORDS: Final = {
    "unilateral_weakness": LEFT_RIGHT,
    "unilateral_weakness_percent": LEFT_RIGHT,
    "monothermal_warm_percent": LEFT_RIGHT,
    "monothermal_cool_percent": LEFT_RIGHT,
    "monothermal_warm_percent_spontaneous_removed": LEFT_RIGHT,
    "monothermal_cool_percent_spontaneous_removed": LEFT_RIGHT,
    "warm_screen_asymmetry": LEFT_RIGHT,
    "directional_preponderance": BEATING,
    "directional_preponderance_percent": BEATING,
    "gain_asymmetry": BEATING,
    "gain_asymmetry_percent": BEATING,
    "baseline_shift_percent": SHIFTED,
    "temperature_effect_percent": WARM_COOL,
}
NO_DIFFERENCE: Final = "no difference"


def rounded(value: float, places: int) -> str:
    """Fixed places, and never a "-0"."""
    text = f"{value:.{places}f}"
    return text.lstrip("-") if float(text) == 0 else text


def percent_words(index: str, value: float, *, places: int = 0) -> str:
    """A percentage with its sign in words: "28 % lower on the left"."""
    if abs(value) < 1e-9:
        return NO_DIFFERENCE
    above, below = SIGN_WORDS[index]
    size = rounded(abs(value), places)
    # "0 % lower on the left" would be two statements that contradict each other.
    said = f"{size} %" if float(size) else "less than 1 %"
    return f"{said} {above if value > 0 else below}"


def interval_words(index: str, low: float, high: float) -> str:
    """Both ends of an interval in words, saying the side twice only where the ends differ."""
    above, below = SIGN_WORDS[index]
    if low >= 0:
        return f"could be {rounded(low, 0)} to {rounded(high, 0)} % {above} on another day"
    if high <= 0:
        return f"could be {rounded(-high, 0)} to {rounded(-low, 0)} % {below} on another day"
    return (
        f"could be anything from {rounded(-low, 0)} % {below}"
        f" to {rounded(high, 0)} % {above} on another day"
    )


def spv_words(irrigation: Irrigation, value: float, *, direction_known: bool = True) -> str:
    """A speed of a response, positive as expected, with the direction it beat in."""
    size = f"{rounded(abs(value), 1)} deg/s"
    if not direction_known:
        return f"{size}, direction not known"
    if value == 0:
        return size
    expected = expected_beat_direction(irrigation)
    if value > 0:
        return f"{size}, beating {expected}"
    other = "left" if expected == "right" else "right"
    return f"{size}, beating {other}: against the expected direction"


def total_words(value: float, *, places: int = 1) -> str:
    """A sum of responses; below zero is said, since most of it then beat the other way."""
    size = f"{rounded(abs(value), places)} deg/s"
    return size if value >= 0 else f"{size}, on balance against the expected direction"


def beating_words(value: float | None) -> str:
    """A speed that is right-beating positive: "6.0 deg/s, right-beating"."""
    if value is None:
        return "not recorded"
    size = f"{rounded(abs(value), 1)} deg/s"
    if value == 0:
        return size
    return f"{size}, {'right' if value > 0 else 'left'}-beating"


def difference_words(value: float, unit: str, *, above: str, below: str, places: int = 1) -> str:
    """A difference with its sign in words: "0.8 °C too warm"."""
    return f"{rounded(abs(value), places)} {unit} {above if value >= 0 else below}"


def places_apart(value: float, limit: float, *, places: int) -> int:
    """The places that keep two numbers apart in print, when they are apart at all.

    25.04 % against a limit of 25 % must not be printed as "25 %, limit 25 %".
    """
    size, edge = abs(value), abs(limit)
    while places < 6 and size != edge and f"{size:.{places}f}" == f"{edge:.{places}f}":
        places += 1
    return places
