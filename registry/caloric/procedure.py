"""How a test should be run: the settings a network or clinic may change, each with its source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Final, Self

from registry.caloric.stored import SettingFault, SettingsInvalid, is_number, unknown_fields

REST_MEASURES: Final = ("end_to_start", "start_to_start")


@dataclass(frozen=True, slots=True, kw_only=True)
class Procedure:
    """Settings of procedure; a field's source and standing are in ``SOURCES`` under its name.

    ``temperature_check_valid_days`` 0 means: checked on the same day. ``rest_s`` is measured
    from the end, or from the start, of one irrigation to the start of the next.
    """

    temperature_tolerance_c: float = 0.5
    duration_tolerance_s: float = 5.0
    rest_s: float = 300.0
    rest_measured: str = "end_to_start"
    temperature_check_valid_days: int = 7
    planned_duration_air_s: float = 60.0
    planned_duration_water_open_s: float = 30.0
    planned_duration_water_closed_s: float = 30.0
    peak_difference_deg_s: float = 2.0
    peak_difference_share: float = 0.15
    reported_tolerance_points: float = 1.0
    inverted_beyond_deg_s: float = 2.0
    usual_warm_cool_log_half: float = 0.17

    def planned_duration_s(self, medium: str) -> float | None:
        """Planned duration for a medium in s; ``None`` for a medium not known here."""
        return {
            "air": self.planned_duration_air_s,
            "water_open": self.planned_duration_water_open_s,
            "water_closed": self.planned_duration_water_closed_s,
        }.get(medium)

    def to_json(self) -> dict[str, Any]:
        """Every setting under its own name."""
        return asdict(self)

    @classmethod
    def from_json(cls, body: Mapping[str, Any]) -> Self:
        """Read stored settings; one that is absent keeps its default.

        :raises SettingsInvalid: unknown field, wrong type, below 0, or not one of its words.
        """
        faults = unknown_fields(body, SOURCES, "")
        faults += [
            SettingFault(f"/{name}", code)
            for name, value in body.items()
            if name in SOURCES and (code := _fault(name, value))
        ]
        if faults:
            raise SettingsInvalid(faults)
        return cls(**body)


# name: (source, standing); standing is one of criteria.SOURCE_MARKS.
SOURCES: Final[Mapping[str, tuple[str, str]]] = {
    "temperature_tolerance_c": ("recalled; 0.4 is quoted too", "memory"),
    "duration_tolerance_s": ("common practice, no source", "common_practice"),
    "rest_s": ("Japanese practice, Kanehara textbook 37132T p. 103", "published"),
    "rest_measured": (
        "end to start: Kanehara textbook 37132T p. 103; other protocols: 7 min start to start, "
        "recalled",
        "published",
    ),
    "temperature_check_valid_days": ("common practice, no source", "common_practice"),
    "planned_duration_air_s": ("published protocols, 60 s", "published"),
    "planned_duration_water_open_s": (
        "250 mL in 30 s: Acta Otorhinolaryngol Ital 2023 (n=78); J Clin Otolaryngol 1995 (n=23)",
        "published",
    ),
    "planned_duration_water_closed_s": (
        "as open water; common practice, no source",
        "common_practice",
    ),
    "peak_difference_deg_s": ("common practice, no source", "common_practice"),
    "peak_difference_share": ("common practice, no source", "common_practice"),
    "reported_tolerance_points": ("printed figures are rounded", "derived"),
    "inverted_beyond_deg_s": ("common practice, no source", "common_practice"),
    "usual_warm_cool_log_half": (
        "order of magnitude from Hannigan et al., J Neurol 2024;271 and an open series of 800 "
        "tests",
        "derived",
    ),
}


def _fault(name: str, value: object) -> str | None:
    if name == "rest_measured":
        return None if value in REST_MEASURES else "not_one_of_the_words"
    if name == "temperature_check_valid_days" and not isinstance(value, int):
        return "not_a_whole_number"
    if not is_number(value):
        return "not_a_number"
    return "below_zero" if value < 0 else None
