"""The filters of the list of visits: the name in an address, and the field that checks it."""

from __future__ import annotations

from typing import Final

from registry.caloric import vocabulary as words
from registry.intake.fields import Field

FILTERS: Final[tuple[tuple[str, Field], ...]] = (
    ("clinic", Field("clinic", "code", "Code of a clinic.")),
    ("tester", Field("tester", "code", "Code of a tester.")),
    ("irrigator", Field("irrigator", "code", "Code of an irrigator.")),
    ("medium", Field("medium", "word", "What carried the heat.", words=words.MEDIA)),
    ("from", Field("date_from", "date", "First day, YYYY-MM-DD.")),
    ("to", Field("date_to", "date", "Last day, YYYY-MM-DD.")),
    ("finding", Field("finding", "word", "A finding of the visit.", words=words.FINDINGS)),
    (
        "assessment",
        Field("assessment", "word", "An assessment of the visit.", words=words.ASSESSMENTS),
    ),
    ("withdrawn", Field("withdrawn", "yes_no", "Only withdrawn visits, or none of them.")),
)
