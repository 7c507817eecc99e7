"""The filters of the list of signals: the name in an address, and the field that checks it."""

from __future__ import annotations

from typing import Final

from analytics.measures import catalogue
from analytics.models.signal import STATES, TIERS
from registry.intake.fields import Field

_MEASURES: Final = tuple(measure.id for measure in catalogue().measures)

FILTERS: Final[tuple[tuple[str, Field], ...]] = (
    ("clinic", Field("clinic", "code", "Code of a clinic.")),
    ("tester", Field("tester_code", "code", "Code of a tester.")),
    ("irrigator", Field("irrigator_code", "code", "Code of an irrigator.")),
    ("measure", Field("measure", "word", "Id of a measure.", words=_MEASURES)),
    ("state", Field("state", "word", "What came of it.", words=STATES)),
    (
        "tier",
        Field(
            "tier",
            "word",
            "How much it asks for; leads are listed please_review when they do not say.",
            words=TIERS,
        ),
    ),
    ("open", Field("open", "yes_no", "Only signals that go on, or none of them.")),
    ("from", Field("opened_from", "date", "First month of opening, by any of its days.")),
    ("to", Field("opened_to", "date", "Last month of opening, by any of its days.")),
)
