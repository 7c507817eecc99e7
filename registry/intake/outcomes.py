"""What became of a visit that could be read but not stored: fixed sentences, as in the checks."""

from __future__ import annotations

from typing import Final

from registry.intake.checks import DETAIL

OUTCOMES: Final[dict[str, str]] = {
    "visit_changed": (
        "A visit with this reference is stored with other content. If this one is right, amend"
        " the stored visit."
    ),
    "visit_withdrawn": "The visit of this reference was withdrawn; sending it does not undo that.",
    "visit_erased": "The visit of this reference was erased for good and is not taken again.",
    "subject_erased": "The subject of this reference was erased for good and is not taken again.",
    "visit_ref_changed": "An amendment keeps the reference of its visit. Send the visit as new.",
}

# Every code that a report of problems may hold.
PROBLEM_DETAIL: Final[dict[str, str]] = {**DETAIL, **OUTCOMES}
