"""The kinds of thing the invented network is made of, and how large it may be.

Everything here is invented. Days are counted from the first day of the two years, so
that one scenario serves any end date: the clock is never read, the date is passed in.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, timedelta
from typing import Any, Final, Literal

DAYS: Final = 730
MONTH_DAYS: Final = 365.25 / 12
SEED: Final = 20_260_301
Size = Literal["small", "full", "large"]
SIZES: Final[dict[str, int]] = {"small": 2_000, "full": 20_000, "large": 200_000}
# Beats are bulky: about 12 kB a visit. The share falls as the network grows.
BEAT_SHARES: Final[dict[str, float]] = {"small": 0.25, "full": 0.10, "large": 0.02}


def first_day(until: date) -> date:
    """The first day of the two years that end before ``until``."""
    return until - timedelta(days=DAYS)


def day_date(until: date, day: int) -> date:
    """The date of day ``day`` (0 is the first) of the two years that end before ``until``."""
    return first_day(until) + timedelta(days=day)


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """On what terms a clinic sends its results."""

    controller: str
    legal_basis: str
    terms: str
    contact: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Tester:
    """Active from ``first_day`` to ``last_day``, both included; ``None``: until the end.

    ``strength`` is an honest difference: what this hand makes of a usual response.
    """

    code: str
    experience_band: str
    strength: float = 1.0
    first_day: int = 0
    last_day: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """One stimulus protocol: temperatures in Cel, duration in s, volume in mL, flow in L/min."""

    medium: str
    warm_c: float
    cool_c: float
    duration_s: float
    volume_ml: float | None = None
    flow_l_min: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Irrigator:
    """``offset_c``: what it delivers above its set temperature when nothing is wrong, in Cel."""

    code: str
    delivery: Delivery
    offset_c: float = 0.0
    first_day: int = 0
    last_day: int | None = None

    def in_use(self, day: int) -> bool:
        return self.first_day <= day and (self.last_day is None or day <= self.last_day)


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorder:
    code: str
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Thermometer:
    """``calibration_due_day`` may lie beyond the two years."""

    code: str
    uncertainty_c: float
    calibration_due_day: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Criteria:
    """A named set of limits in percent; the limits in use differ between clinics."""

    name: str
    version: int = 1
    unilateral_weakness: float = 25.0
    directional_preponderance: float = 30.0
    gain_asymmetry: float = 25.0

    def to_json(self) -> dict[str, Any]:
        """The set as a registry stores it; a limit not named here keeps the registry's own."""
        source = (
            "invented choice; 20, 25 and 30 % are all in use (Murnane et al., Ear Hear 2009;30)"
        )
        own = ("unilateral_weakness", "directional_preponderance", "gain_asymmetry")
        limits = [
            {
                "code": code,
                "value": getattr(self, code),
                "inclusive": False,
                "source": source,
                "source_mark": "common_practice",
            }
            for code in own
        ]
        return {"name": self.name, "version": self.version, "limits": limits}


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """How a clinic says a test should be run; ``temperature_checks`` is daily or weekly."""

    temperature_checks: str = "weekly"
    temperature_tolerance_c: float = 0.5
    duration_tolerance_s: float = 5.0
    rest_s: float = 300.0
    rest_measured: str = "end_to_start"
    planned_duration_water_closed_s: float = 30.0

    def procedure(self) -> dict[str, float | str]:
        """The settings by the field names of the registry's procedure."""
        settings = asdict(self)
        checks = settings.pop("temperature_checks")
        # 0 days: the check must be of the same day.
        return settings | {"temperature_check_valid_days": 0 if checks == "daily" else 7}


@dataclass(frozen=True, slots=True, kw_only=True)
class Export:
    """What a clinic's own system sends, and how: formats, signs, rounding, optional blocks.

    ``shape`` is ``ndjson``, ``ndjson_gz``, ``long``, ``wide`` or ``xlsx_then_ndjson``;
    ``fixation`` is ``pair`` (with the speed before it), ``alone`` or ``None``;
    ``reported`` is ``tenths``, ``whole``, ``clamped`` (negative peaks set to zero) or ``None``.
    """

    shape: str = "ndjson"
    sign_convention: str = "expected_positive"
    peak_basis: str | None = "mean_10s"
    decimals: int = 1
    directions: bool = True
    times: bool = True
    measured_by: str | None = "reference_thermometer"
    fixation: str | None = "pair"
    spontaneous: str | None = "not_removed"
    otoscopy: bool = True
    background: bool = True
    recording: bool = True
    reported: str | None = None
    beats: bool = False
    ice: bool = False
    screens: bool = False
    cool_first: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Clinic:
    code: str
    name: str
    time_zone: str
    agreement: Agreement
    settings: Settings
    export: Export
    criteria: Criteria
    testers: tuple[Tester, ...]
    irrigators: tuple[Irrigator, ...]
    recorders: tuple[Recorder, ...]
    thermometers: tuple[Thermometer, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    code: str
    name: str
    region: str
    description: str
    agreement: Agreement
    criteria: Criteria


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    network: Network
    clinics: tuple[Clinic, ...]

    def visits_of(self, clinic: Clinic, size: str) -> int:
        """How many visits a clinic sends; the clinics together send exactly ``SIZES[size]``.

        In proportion to the irrigators it keeps in use to the end.
        """
        weights = [sum(i.last_day is None for i in c.irrigators) for c in self.clinics]
        place = self.clinics.index(clinic)
        before, through = sum(weights[:place]), sum(weights[: place + 1])
        total = SIZES[size]
        return total * through // sum(weights) - total * before // sum(weights)
