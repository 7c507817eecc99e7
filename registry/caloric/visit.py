"""What one caloric visit holds, as plain values that know no database and no file.

Everything optional may be absent: ``None`` means *not recorded*, never a default.
Speeds are slow-phase velocities in deg/s, temperatures in Cel, times in seconds.
How the peaks are signed is said by ``Visit.sign_convention``; the stored form, and
what the formulas read, is ``expected_positive`` (see ``responses.normalise``).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True, slots=True)
class Beats:
    """Slow-phase velocity of each beat, in order of time.

    ``time_s`` counts from the onset of the irrigation, strictly increasing, 0-600 s;
    ``spv`` is as long as ``time_s`` and signed as the visit's peaks are.
    """

    time_s: tuple[float, ...]
    spv: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spontaneous:
    """Spontaneous nystagmus before the first irrigation; ``spv`` right-beating positive."""

    spv: float | None = None
    kind: str | None = None
    handling: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Otoscopy:
    right: str | None = None
    left: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Background:
    referral_group: str | None = None
    onset_band: str | None = None
    symptomatic_ear: str | None = None
    suppressants_48h: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    method: str | None = None
    eye: str | None = None
    vision_denied: str | None = None
    alerting: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reported:
    """What the clinic's own system printed: magnitudes at or above 0, and a side in words."""

    unilateral_weakness_percent: float | None = None
    lower_side: str | None = None
    directional_preponderance_percent: float | None = None
    preponderance_direction: str | None = None
    total_spv: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Irrigation:
    """One delivery of warm, cool or ice stimulus to one ear, and the response after it.

    ``counts`` is what the sender said (``None``: nothing); which attempt of a cell counts in
    the end is decided by ``responses.counted``.
    """

    ear: str
    stimulus: str
    attempt: int = 1
    order_in_visit: int | None = None
    started_at: datetime | None = None
    set_temperature_c: float | None = None
    measured_temperature_c: float | None = None
    measured_by: str | None = None
    duration_s: float | None = None
    volume_ml: float | None = None
    peak_spv: float | None = None
    peak_basis: str | None = None
    beat_direction: str | None = None
    pre_fixation_spv: float | None = None
    fixation_spv: float | None = None
    fixation_from_s: float | None = None
    fixation_to_s: float | None = None
    beats: Beats | None = None
    baseline_spv: float | None = None
    vertical_component: str | None = None
    position: str | None = None
    usable: bool = True
    unusable_reason: tuple[str, ...] = ()
    repeat_reason: str | None = None
    counts: bool | None = None
    earlier_attempts_not_sent: int | None = None
    tester: str | None = None
    irrigator: str | None = None
    medium: str | None = None
    peak_set_by: str | None = None

    @property
    def cell(self) -> str:
        """Ear and stimulus, for example ``right_warm``."""
        return f"{self.ear}_{self.stimulus}"

    @property
    def name(self) -> str:
        """How findings point at this irrigation: ``right_warm_2`` is the first repeat."""
        return f"{self.cell}_{self.attempt}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One caloric test of one subject on one day. Codes are the clinic's own, never names."""

    visit_ref: str
    subject_ref: str
    visit_date: date
    age_years: int
    tester: str
    irrigator: str
    medium: str
    irrigations: tuple[Irrigation, ...]
    recorder: str | None = None
    sex: str | None = None
    visit_kind: str | None = None
    protocol_planned: str | None = None
    head_elevation_deg: float | None = None
    incomplete_reason: str | None = None
    adverse_event: str | None = None
    sign_convention: str = "expected_positive"
    spontaneous: Spontaneous | None = None
    otoscopy: Otoscopy | None = None
    background: Background | None = None
    recording: Recording | None = None
    reported: Reported | None = None
    from_clinic_default: tuple[str, ...] = ()
