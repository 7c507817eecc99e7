"""Where the marks of one response's time course stand on its drawing.

Only places are worked out here; every figure shown was computed with the visit. Marks lie on
the time axis as brackets and segments with their names, so nothing hides the beats.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from registry.caloric.peaks import WINDOW_S

WIDTH: Final = 460
HEIGHT: Final = 300
LEFT, RIGHT, TOP, BOTTOM = 46, 440, 14, 214
_STEPS: Final = (1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0)
_TIME_STEPS: Final = (10, 20, 30, 60, 120)


@dataclass(frozen=True, slots=True)
class Tick:
    at: float
    label: str


@dataclass(frozen=True, slots=True)
class Segment:
    """A named stretch of the time axis, drawn with a small end mark at both sides."""

    start: float
    end: float
    level: float
    name: str
    kind: str

    @property
    def middle(self) -> float:
        return round((self.start + self.end) / 2, 1)

    @property
    def end_marks(self) -> tuple[float, float]:
        return self.level - 4, self.level + 4


@dataclass(frozen=True, slots=True)
class TimeCourse:
    """The places of everything on one drawing, in its own units of length."""

    name: str
    points: tuple[tuple[float, float], ...]
    zero: float
    time_ticks: tuple[Tick, ...]
    speed_ticks: tuple[Tick, ...]
    segments: tuple[Segment, ...]
    culmination: Tick | None
    beats: int

    width, height = WIDTH, HEIGHT
    left, right, top, bottom = LEFT, RIGHT, TOP, BOTTOM


def time_course(irrigation: Mapping[str, Any], response: Mapping[str, Any]) -> TimeCourse | None:
    """The drawing of one irrigation with its beats; ``None`` where no beats were sent."""
    beats = irrigation.get("beats")
    if not beats or not beats["time_s"]:
        return None
    along = _Scale(0.0, _last_time(beats["time_s"]), LEFT, RIGHT)
    low, high, step = _speed_range(beats["spv"])
    up = _Scale(low, high, BOTTOM, TOP)
    peak_at = response.get("culmination_time_s")
    return TimeCourse(
        name=str(response.get("irrigation", "")),
        points=tuple(
            (along(time), up(speed))
            for time, speed in zip(beats["time_s"], beats["spv"], strict=True)
        ),
        zero=up(0.0),
        time_ticks=_time_ticks(along),
        speed_ticks=tuple(Tick(up(value), f"{value:g}") for value in _steps(low, high, step)),
        segments=tuple(_segments(irrigation, peak_at, along)),
        culmination=None if peak_at is None else Tick(along(peak_at), f"{peak_at:g} s"),
        beats=len(beats["time_s"]),
    )


@dataclass(frozen=True, slots=True)
class _Scale:
    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return round(self.start + share * (self.end - self.start), 1)


def _last_time(times: Sequence[float]) -> float:
    # A whole minute above the last beat, and two at least: drawings of one visit look alike.
    return max(120.0, math.ceil(times[-1] / 60) * 60.0)


def _speed_range(speeds: Sequence[float]) -> tuple[float, float, float]:
    low, high = min(0.0, *speeds), max(0.0, *speeds)
    step = next((one for one in _STEPS if (high - low) / one <= 6), _STEPS[-1])
    bottom, top = math.floor(low / step) * step, math.ceil(high / step) * step
    return bottom, top if top > bottom else bottom + step, step


def _steps(low: float, high: float, step: float) -> list[float]:
    return [low + step * place for place in range(round((high - low) / step) + 1)]


def _time_ticks(along: _Scale) -> tuple[Tick, ...]:
    step = next((one for one in _TIME_STEPS if along.high / one <= 7), _TIME_STEPS[-1])
    return tuple(Tick(along(at), str(at)) for at in range(0, int(along.high) + 1, step))


def _segments(irrigation: Mapping[str, Any], peak_at: float | None, along: _Scale) -> list[Segment]:
    stretches = [
        ("irrigation", "irrigation", 0.0, irrigation.get("duration_s"), BOTTOM + 34),
        (
            "fixation",
            "fixation",
            irrigation.get("fixation_from_s"),
            irrigation.get("fixation_to_s"),
            BOTTOM + 34,
        ),
    ]
    if peak_at is not None:
        half = WINDOW_S / 2
        name = f"{WINDOW_S:g} s window of the peak"
        stretches.append(("window", name, peak_at - half, peak_at + half, BOTTOM + 56))
    return [
        Segment(along(start), along(min(end, along.high)), level, name, kind)
        for kind, name, start, end, level in stretches
        if start is not None and end is not None and start < along.high
    ]
