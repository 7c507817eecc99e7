"""A signal and what is said to it, as JSON Schema."""

from __future__ import annotations

from typing import Final

from analytics.api.shape_parts import CLINIC_CODE, all_of, any_object, day, taken, word
from analytics.models.signal import ACTIONS, CAUSES, CHANNELS, EFFECTS, STATES, SUBJECTS, TIERS
from analytics.signals.review import REPLY_FIELDS, REVIEW_FIELDS
from registry.api.field_schemas import (
    Schema,
    identity,
    list_of,
    moment,
    nullable,
    number,
    text,
    whole,
    yes_no,
)
from registry.api.shapes import page_of_items

_SIGNAL_ENTRY: Final = all_of(
    {
        "kind": word("What it is.", ("review", "reply", "effect")),
        "state": nullable(word("What came of it.", STATES)),
        "cause": nullable(word("What explains it.", CAUSES)),
        "action": nullable(word("What was done.", ACTIONS)),
        "due_on": nullable(day("Day from which the effect is looked at.")),
        "effect": nullable(word("Whether what was done helped.", EFFECTS)),
        "note": text("A sentence, or nothing."),
        "made_at": moment("When it was said."),
        "made_as": text("The role it was said in."),
    },
    "Something said to a signal.",
)
_SIGNAL: Final = all_of(
    {
        "id": identity("The registry's own id."),
        "subject": all_of(
            {
                "kind": word("What it is about.", SUBJECTS),
                "id": identity("Its id."),
                "code": text("Its code at the clinic."),
                "clinic": CLINIC_CODE,
                "part": text("A stimulus of an irrigator, or nothing."),
            },
            "Whom or what it is about.",
        ),
        "measure": text("Id of the measure."),
        "title": text("Title of the measure."),
        "channel": word("How it was seen.", CHANNELS),
        "tier": word("How much it asks for.", TIERS),
        "direction": word("Where it moved to.", ("higher", "lower", "either")),
        "opened_month": day("First day of the month at whose end it was seen."),
        "opened_at": moment("When it was seen."),
        "since": day("First day of the first month that shows it."),
        "distance": nullable(number("How far, in standard errors.")),
        "last_month_beyond": day("First day of the last month beyond the limit."),
        "back_within": nullable(day("First day of the month in which it ended.")),
        "evidence": any_object("The figures as they were when it was seen."),
        "state": word("What came of it.", STATES),
        "cause": nullable(word("What explains it.", CAUSES)),
        "action": nullable(word("What was done.", ACTIONS)),
        "due_on": nullable(day("Day from which the effect is looked at.")),
        "effect": nullable(word("Whether what was done helped.", EFFECTS)),
        "effect_checked_on": nullable(day("Day that the effect was looked at.")),
        "seen_by_tester": yes_no("Whether the tester it is about has read it."),
        "entries": list_of("SignalEntry", "What was said to it, oldest first."),
        "visits": {
            "type": "object",
            "description": "The filters of the list of visits that show what is behind it.",
            "additionalProperties": {"type": "string"},
        },
        "version": whole("For If-Match.", minimum=1),
    },
    "Something about a tester, irrigator or clinic over many visits that deserves a look.",
)

SIGNAL_SHAPES: Final[dict[str, Schema]] = {
    "SignalEntry": _SIGNAL_ENTRY,
    "Signal": _SIGNAL,
    "SignalReview": taken(REVIEW_FIELDS, "What a review says; it takes the place of the last."),
    "SignalReply": taken(REPLY_FIELDS, "The tester's own words."),
    "SignalPage": page_of_items("Signal"),
}
