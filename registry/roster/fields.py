"""The fields of testers, devices, temperature checks and equipment events, written once.

The checks and the schema of the API both read these lists. Limits without a source are common
practice, no source.
"""

from __future__ import annotations

from typing import Final

from registry.caloric import vocabulary as words
from registry.intake.fields import Field

# Ice has no temperature that could be checked.
CHECK_STIMULI: Final = ("warm", "cool")

TESTER_FIELDS: Final = (
    Field("code", "code", "The clinic's code of the tester, never a name.", needed=True),
    Field("experience_band", "word", "Experience with the test.", words=words.EXPERIENCE_BANDS),
    Field("active_from", "date", "First day of work, written YYYY-MM-DD."),
    Field("active_to", "date", "Last day of work."),
)

DEVICE_FIELDS: Final = (
    Field("code", "code", "The clinic's label of the device.", needed=True),
    Field("in_service_from", "date", "First day in service, written YYYY-MM-DD."),
    Field("retired_at", "date", "Last day in service."),
    Field("calibration_due", "date", "Day by which the next calibration is due."),
    Field(
        "uncertainty_c",
        "number",
        "Expanded uncertainty of its temperature (k = 2).",
        low=0,
        high=10,
        unit="Cel",
    ),
)

CHECK_FIELDS: Final = (
    Field("irrigator", "code", "The clinic's code of the irrigator.", needed=True),
    Field("checked_at", "time", "When it was read, RFC 3339.", needed=True),
    Field("stimulus", "word", "Warm or cool.", words=CHECK_STIMULI, needed=True),
    Field(
        "set_temperature_c", "number", "Temperature set.", low=0, high=60, unit="Cel", needed=True
    ),
    Field("reading_c", "number", "Temperature read.", low=0, high=100, unit="Cel", needed=True),
    Field("thermometer", "code", "The clinic's code of the reference thermometer."),
    Field("measured_at", "word", "Where it was read.", words=words.CHECK_PLACES),
    Field("phase", "word", "Before or after a change.", words=words.CHECK_PHASES),
    Field("action", "word", "What was done.", words=words.CHECK_ACTIONS),
    Field("flow_l_min", "number", "Flow.", low=0, high=100, unit="L/min"),
    Field("ambient_c", "number", "Temperature of the room.", low=-20, high=60, unit="Cel"),
)

EVENT_FIELDS: Final = (
    Field("kind", "word", "What was done.", words=words.EQUIPMENT_EVENTS, needed=True),
    Field("happened_at", "time", "When, RFC 3339.", needed=True),
    Field("irrigator", "code", "The irrigator it was done to; or a recorder."),
    Field("recorder", "code", "The recorder it was done to; or an irrigator."),
)
