"""What each fault of a roster entry means and what to do about it, in fixed sentences."""

from __future__ import annotations

from typing import Final

from registry.intake.checks.catalogue import IN_A_VISIT

IN_THE_ROSTER: Final[dict[str, str]] = {
    "unknown_field": (
        "There is a field here that this object does not have; its position among the fields is"
        " given. Remove it or correct its name."
    ),
    "not_changeable": (
        "This field cannot be changed afterwards. Leave it out; a label used again is a new object."
    ),
    "nothing_to_change": "No field to change was sent. Send at least one.",
    "ends_before_start": "The last day lies before the first. Correct one of the two.",
    "date_in_future": "The time lies in the future. Correct it.",
    "unknown_irrigator": (
        "The clinic has no irrigator with this code. Add the irrigator or correct the code."
    ),
    "unknown_recorder": (
        "The clinic has no recorder with this code. Add the recorder or correct the code."
    ),
    "unknown_thermometer": (
        "The clinic has no thermometer with this code. Add the thermometer or correct the code."
    ),
    "irrigator_not_in_service": (
        "The irrigator was not in service on that day. Correct the code or the day."
    ),
    "recorder_not_in_service": (
        "The recorder was not in service on that day. Correct the code or the day."
    ),
    "thermometer_not_in_service": (
        "The thermometer was not in service on that day. Correct the code or the day."
    ),
    "note_too_long": "A note has at most 500 characters. Shorten it.",
    "note_names_somebody": (
        "The note holds an e-mail address, a date or a long number, so it was not kept. Write it"
        " without anything that could name a person."
    ),
    "note_empty": "The note is empty. Write a sentence.",
    "cause_needed": "This state says that a cause was looked for. Name it, if only as unknown.",
    "action_needed": "This state says that something was done. Name it.",
    "date_in_past": "The day lies in the past. Give one that is still to come.",
    "one_device_needed": "Name one device: either an irrigator or a recorder, and not both.",
}

DETAIL: Final[dict[str, str]] = {**IN_A_VISIT, **IN_THE_ROSTER}
