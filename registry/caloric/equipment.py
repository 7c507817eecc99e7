"""What the registry knows of an irrigator's delivered temperature."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class TemperatureReading:
    """One reading of an irrigator against a reference thermometer.

    It covers only its own irrigator, stimulus and set temperature (Cel). ``checked_at`` is aware;
    ``within_tolerance`` was decided when the reading was stored.
    """

    irrigator: str
    checked_at: datetime
    stimulus: str
    set_temperature_c: float
    within_tolerance: bool
