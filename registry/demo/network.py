"""The invented network: the balance clinics of an archipelago that does not exist.

The islands share a health service and, on paper, half the globe: their time zones are
real ones, chosen for odd offsets and clock changes in both hemispheres, because results
meet temperature checks by the clock. Places, people, terms and contacts are invented.
"""

from __future__ import annotations

from functools import cache
from typing import Final

from registry.demo.scenario import (
    Agreement,
    Clinic,
    Criteria,
    Delivery,
    Export,
    Irrigator,
    Network,
    Recorder,
    Scenario,
    Settings,
    Tester,
    Thermometer,
)

# Water 44/30 Cel, 250 mL in 30 s: Acta Otorhinolaryngol Ital 2023. Air 50/24 Cel for 60 s:
# published protocols; 48 Cel and closed water for 45 s: common practice, no source.
OPEN_WATER: Final = Delivery(
    medium="water_open", warm_c=44.0, cool_c=30.0, duration_s=30.0, volume_ml=250.0
)
CLOSED_WATER: Final = Delivery(medium="water_closed", warm_c=44.0, cool_c=30.0, duration_s=45.0)
AIR: Final = Delivery(medium="air", warm_c=50.0, cool_c=24.0, duration_s=60.0, flow_l_min=8.0)
AIR_48: Final = Delivery(medium="air", warm_c=48.0, cool_c=24.0, duration_s=60.0, flow_l_min=8.0)

COMMON: Final = Criteria(name="Vessarin common")
LOWER: Final = Criteria(
    name="Vessarin lower", unilateral_weakness=20.0, directional_preponderance=28.0
)
HIGHER: Final = Criteria(name="Vessarin higher", version=2, unilateral_weakness=30.0)

BANDS: Final = ("gt5y", "1_5y", "gt5y", "lt1y", "1_5y", "trainee")
# Honest differences between hands: no two deliver quite alike, and none of these is a fault.
STRENGTHS: Final = (1.0, 0.97, 1.02, 1.04, 0.98, 0.96, 1.03, 0.99, 1.01)
# Honest differences between irrigators, well inside any tolerance.
OFFSETS_C: Final = (0.03, -0.05, 0.08, -0.02, 0.05, -0.08, 0.0, 0.06, -0.04, 0.02)


def _testers(first: int, last: int) -> tuple[Tester, ...]:
    return tuple(
        Tester(
            code=f"T-{n:02d}",
            experience_band=BANDS[n % len(BANDS)],
            strength=STRENGTHS[n % len(STRENGTHS)],
        )
        for n in range(first, last + 1)
    )


def _irrigators(first: int, *deliveries: Delivery) -> tuple[Irrigator, ...]:
    return tuple(
        Irrigator(code=f"IR-{n}", delivery=delivery, offset_c=OFFSETS_C[n % len(OFFSETS_C)])
        for n, delivery in enumerate(deliveries, start=first)
    )


def _recorders(first: int, *methods: str) -> tuple[Recorder, ...]:
    return tuple(Recorder(code=f"RC-{n}", method=m) for n, m in enumerate(methods, start=first))


def _thermometers(first: int, count: int = 1) -> tuple[Thermometer, ...]:
    return tuple(
        Thermometer(code=f"TH-{n}", uncertainty_c=0.1, calibration_due_day=700 + 10 * n)
        for n in range(first, first + count)
    )


def _agreement(
    place: str, *, legal_basis: str, terms: str = "Vessarin terms, third edition"
) -> Agreement:
    return Agreement(
        controller=f"Island Health Board of {place} (invented)",
        legal_basis=legal_basis,
        terms=terms,
        contact=f"records@{place.lower().replace(' ', '')}.example",
    )


QUALITY_DUTY: Final = "Quality assurance duty, Vessarin Health Care Order, part 4 (invented)"
CONSENT: Final = "Written consent of each person (invented form VB-2)"


def _western() -> tuple[Clinic, ...]:
    return (
        Clinic(
            code="TOL",
            name="Tolmarrow Balance Clinic",
            time_zone="Atlantic/Azores",
            agreement=_agreement("Tolmarrow", legal_basis=QUALITY_DUTY),
            settings=Settings(temperature_checks="daily"),
            criteria=COMMON,
            export=Export(reported="tenths", beats=True, ice=True),
            testers=_testers(1, 4),
            irrigators=_irrigators(1, OPEN_WATER, OPEN_WATER, OPEN_WATER),
            recorders=_recorders(1, "video", "video"),
            thermometers=_thermometers(1, 2),
        ),
        Clinic(
            code="YSS",
            name="Ysserholm Dizziness Unit",
            time_zone="Atlantic/Faroe",
            agreement=_agreement("Ysserholm", legal_basis=CONSENT),
            settings=Settings(),
            criteria=LOWER,
            export=Export(sign_convention="right_beating_positive", beats=True, background=False),
            testers=_testers(5, 8),
            irrigators=_irrigators(4, AIR, AIR, AIR),
            recorders=_recorders(3, "video", "video"),
            thermometers=_thermometers(3),
        ),
        Clinic(
            code="PEL",
            name="Pelluvane Hearing and Balance Rooms",
            time_zone="Atlantic/Azores",
            agreement=_agreement("Pelluvane", legal_basis=QUALITY_DUTY),
            settings=Settings(temperature_tolerance_c=0.4),
            criteria=COMMON,
            export=Export(shape="long", reported="whole", fixation="alone", recording=False),
            testers=_testers(9, 11),
            irrigators=_irrigators(7, AIR_48, AIR_48, AIR_48),
            recorders=_recorders(5, "electrode", "video"),
            thermometers=_thermometers(4),
        ),
        Clinic(
            code="GRI",
            name="Grintarra Infirmary, Balance Room",
            time_zone="America/St_Johns",
            agreement=_agreement("Grintarra", legal_basis=QUALITY_DUTY),
            settings=Settings(duration_tolerance_s=3.0),
            criteria=COMMON,
            export=Export(
                shape="wide",
                peak_basis=None,
                decimals=0,
                directions=False,
                times=False,
                measured_by=None,
                fixation="alone",
                recording=False,
                background=False,
            ),
            testers=_testers(12, 15),
            irrigators=_irrigators(10, OPEN_WATER, OPEN_WATER, OPEN_WATER),
            recorders=_recorders(7, "electrode"),
            thermometers=_thermometers(5),
        ),
        Clinic(
            code="BRE",
            name="Brelling Head Vertigo Service",
            time_zone="America/Santiago",
            agreement=_agreement("Brelling Head", legal_basis=CONSENT),
            settings=Settings(rest_s=420.0, rest_measured="start_to_start"),
            criteria=HIGHER,
            export=Export(peak_basis="single_beat", measured_by=None, reported="tenths"),
            testers=_testers(34, 36),
            irrigators=_irrigators(28, AIR, AIR, AIR),
            recorders=_recorders(17, "video", "video"),
            thermometers=_thermometers(12),
        ),
    )


def _eastern() -> tuple[Clinic, ...]:
    leaving = Tester(code="T-25", experience_band="gt5y", last_day=520)
    joining = Tester(code="T-26", experience_band="trainee", first_day=480)
    mirravoe = _irrigators(25, OPEN_WATER, OPEN_WATER, OPEN_WATER)
    failed = Irrigator(code="IR-26", delivery=OPEN_WATER, offset_c=-0.04, last_day=444)
    successor = Irrigator(code="IR-31", delivery=OPEN_WATER, offset_c=0.02, first_day=445)
    return (
        Clinic(
            code="VAS",
            name="Lower Vashmoor Balance Clinic",
            time_zone="Pacific/Chatham",
            agreement=_agreement("Lower Vashmoor", legal_basis=QUALITY_DUTY),
            settings=Settings(planned_duration_water_closed_s=45.0),
            criteria=COMMON,
            export=Export(
                shape="ndjson_gz",
                peak_basis="fitted",
                measured_by="irrigator_display",
                screens=True,
            ),
            testers=_testers(16, 19),
            irrigators=_irrigators(13, CLOSED_WATER, CLOSED_WATER, CLOSED_WATER),
            recorders=_recorders(8, "video", "video"),
            thermometers=_thermometers(6),
        ),
        Clinic(
            code="OCK",
            name="Ockentide Audiology",
            time_zone="Australia/Lord_Howe",
            agreement=_agreement("Ockentide", legal_basis=QUALITY_DUTY),
            settings=Settings(temperature_checks="daily"),
            criteria=LOWER,
            export=Export(
                sign_convention="slow_phase_right_positive",
                reported="clamped",
                fixation=None,
                otoscopy=False,
                cool_first=True,
            ),
            testers=_testers(20, 22),
            irrigators=_irrigators(16, AIR, AIR, AIR),
            recorders=_recorders(10, "video"),
            thermometers=_thermometers(7),
        ),
        Clinic(
            code="FAR",
            name="Farrowquay Neurotology Clinic",
            time_zone="Atlantic/Canary",
            agreement=_agreement("Farrowquay", legal_basis=QUALITY_DUTY),
            settings=Settings(),
            criteria=COMMON,
            export=Export(beats=True, spontaneous="removed", reported="tenths"),
            testers=(*_testers(23, 24), leaving, joining, *_testers(37, 37)),
            irrigators=_irrigators(19, OPEN_WATER, OPEN_WATER, OPEN_WATER),
            recorders=_recorders(11, "video", "video"),
            thermometers=_thermometers(8),
        ),
        Clinic(
            code="DUN",
            name="Dunsellar Balance and Hearing",
            time_zone="America/Halifax",
            agreement=_agreement(
                "Dunsellar", legal_basis=CONSENT, terms="Vessarin terms, second edition"
            ),
            settings=Settings(),
            criteria=COMMON,
            export=Export(shape="xlsx_then_ndjson", peak_basis="mean_3_beats", spontaneous=None),
            testers=_testers(27, 29),
            irrigators=_irrigators(22, AIR, OPEN_WATER, AIR),
            recorders=_recorders(13, "video", "electrode"),
            thermometers=_thermometers(9),
        ),
        Clinic(
            code="MIR",
            name="Mirravoe Island Hospital, Vestibular Room",
            time_zone="Asia/Nicosia",
            agreement=_agreement("Mirravoe", legal_basis=QUALITY_DUTY),
            settings=Settings(),
            criteria=COMMON,
            export=Export(sign_convention="right_beating_positive", measured_by=None, ice=True),
            testers=_testers(30, 33),
            irrigators=(mirravoe[0], failed, mirravoe[2], successor),
            recorders=_recorders(15, "video", "video"),
            thermometers=_thermometers(10, 2),
        ),
    )


@cache
def scenario() -> Scenario:
    """The whole invented network; the same at every call."""
    network = Network(
        code="VESSARIN",
        name="Vessarin Balance Network",
        region="Vessarin Isles (invented)",
        description="Ten balance clinics of an invented archipelago. No result here is real.",
        agreement=_agreement("Vessarin", legal_basis=QUALITY_DUTY),
        criteria=COMMON,
    )
    return Scenario(network=network, clinics=(*_western(), *_eastern()))
