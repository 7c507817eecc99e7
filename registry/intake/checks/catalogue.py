"""What each fault code means and what to do about it, in fixed sentences.

Fixed, so that no refused value can reach a log, a page or an answer by way of its message.
"""

from __future__ import annotations

from typing import Final

IN_A_VISIT: Final[dict[str, str]] = {
    "required": "This field is needed and was not sent. Send it.",
    "unknown_field": (
        "There is a field here that a visit does not have; its position among the fields is given."
        " Remove it or correct its name."
    ),
    "not_an_object": "An object with named fields belongs here. Send one, in braces.",
    "not_a_list": "A list belongs here. Send one, in brackets.",
    "list_empty": "The list is empty. Send at least one item.",
    "list_too_long": (
        "The list is too long: a visit holds at most 16 irrigations, an irrigation at most 1,000"
        " beats. Send fewer."
    ),
    "item_repeated": "The list holds the same item twice. Send each item once.",
    "not_text": "Text belongs here. Send the value in quotes.",
    "not_in_list": "The value is not one of the allowed words. Send one of the list, as spelled.",
    "not_a_number": (
        "A number belongs here, without quotes or unit. Write a decimal point; a decimal comma is"
        " read only in a CSV file separated by semicolons."
    ),
    "not_finite": "The number is infinite or no number. Leave the field out if it is not recorded.",
    "out_of_range": "The number is outside the range of this field. Check the value and its unit.",
    "not_a_whole_number": "A whole number belongs here. Send it without decimals.",
    "not_true_or_false": "Only true or false belongs here. Send one of them.",
    "not_a_date": "A date belongs here, written YYYY-MM-DD. No other order is guessed.",
    "not_a_time": (
        "A date and time belongs here. Write it as RFC 3339 asks, YYYY-MM-DDThh:mm:ss and the"
        " offset from UTC."
    ),
    "time_without_offset": (
        "The time does not say its offset from UTC. Add Z or an offset such as +01:00."
    ),
    "looks_like_identifier": (
        "The code looks like a name, a date, an e-mail address or a record number, so it was not"
        " kept. Send a random code; the registry can make one."
    ),
    "code_not_allowed": (
        "A code has 3 to 40 letters A to Z, digits, dots, underscores and hyphens. Send such a one."
    ),
    "date_in_future": "The visit lies in the future. Correct its date.",
    "date_too_old": "The visit lies before 1990-01-01. Correct its date.",
    "unknown_tester": "The clinic has no tester with this code. Add the tester or correct it.",
    "unknown_irrigator": (
        "The clinic has no irrigator with this code. Add the irrigator or correct it."
    ),
    "unknown_recorder": (
        "The clinic has no recorder with this code. Add the recorder or correct it."
    ),
    "tester_not_active": (
        "The tester was not active on the day of the visit. Correct the code, the date or the"
        " tester's active days."
    ),
    "irrigator_not_in_service": (
        "The irrigator was not in service on the day of the visit. Correct the code, the date or"
        " the irrigator's days of service."
    ),
    "recorder_not_in_service": (
        "The recorder was not in service on the day of the visit. Correct the code, the date or"
        " the recorder's days of service."
    ),
    "removed_needs_steady_horizontal": (
        "Only a steady horizontal spontaneous nystagmus can be removed from the peaks. Correct"
        " handling or kind, or send the peaks with nothing removed."
    ),
    "cell_attempt_repeated": (
        "Two irrigations have the same ear, stimulus and attempt. Number the attempts 1, 2, 3."
    ),
    "attempts_have_gaps": (
        "An earlier attempt of this ear and stimulus is missing. Number the attempts 1, 2, 3, and"
        " count those not sent in earlier_attempts_not_sent."
    ),
    "order_in_visit_repeated": (
        "Two irrigations have the same place in the order. Give each its own, or leave it out."
    ),
    "simultaneous_not_supported": (
        "Two ears were irrigated at once. The registry takes one ear at a time: correct the order"
        " and the times, or do not send this visit."
    ),
    "started_at_not_on_visit_date": (
        "The irrigation started more than a day away from the visit. Correct the time or the date."
    ),
    "temperature_contradicts_stimulus": (
        "Warm is set above 37 Cel, cool and ice below. Correct the temperature or the stimulus."
    ),
    "computed_without_beats": (
        "A peak computed by the registry needs the beats it was computed from. Send the beats, or"
        " say how the peak was taken."
    ),
    "peak_needed": (
        "The irrigation has no peak and no beats. Send one of them, or say that it is not usable."
    ),
    "sign_conflict": (
        "The sign of the peak contradicts its beat direction or the sign convention. Correct one"
        " of the three."
    ),
    "beats_unequal_length": (
        "The times and the speeds of the beats are not equally many. Send one speed for each time."
    ),
    "beats_not_increasing": "A beat is not later than the one before it. Send beats in order.",
    "fixation_ends_before_start": "Fixation ends before it starts. Correct one of the two times.",
    "fixation_interval_open": "Only one end of fixation was sent. Send both, or neither.",
    "unusable_reason_but_usable": (
        "A reason for not being usable was sent for an irrigation that is usable. Set usable to"
        " false or leave the reason out."
    ),
    "counts_but_not_usable": (
        "An irrigation that is not usable is marked as the one that counts. Change one of them."
    ),
    "counts_twice": "Two attempts of one ear and stimulus are marked as counting. Mark one.",
}

IN_A_RECORD: Final[dict[str, str]] = {
    "not_json": "The line is not JSON. Send one whole visit a line.",
    "not_utf8": "The text is not UTF-8. Save the file as UTF-8 and send it again.",
    "duplicate_key": "A field is there twice. Send it once.",
    "too_deep": "The JSON is nested too deeply for a visit. Send a visit as it is described.",
    "number_too_large": "A number is too large to be kept. Correct it.",
    "formula_in_cell": "The cell starts with an equals sign. Send the value itself.",
    "error_in_cell": "The cell holds an error of the spreadsheet. Correct it or leave it blank.",
    "row_too_wide": "The row has more cells than the header has columns. Check its separators.",
    "visit_rows_not_together": (
        "Rows of this visit stand elsewhere in the file too. Keep the rows of a visit together."
    ),
    "visit_fields_differ": (
        "The rows of one visit contradict each other in this field. Write the same on each."
    ),
}

OF_A_FILE: Final[dict[str, str]] = {
    "file_empty": "The file holds no result. Send a file with at least one.",
    "file_too_large": "The file is larger than allowed. Send it in parts.",
    "unpacked_too_large": (
        "The file unpacks to more than allowed. Send it in parts, a large table as CSV."
    ),
    "not_readable": "The file is broken or of a kind that is not read. Save it anew and send that.",
    "line_too_long": "A line is longer than allowed. Check the quotes and line ends of the file.",
    "too_many_rows": "The file has more rows than allowed. Send it in parts.",
    "header_missing": (
        "The first row does not name the columns. Use the header of the blank template."
    ),
    "unknown_column": (
        "A column, given by its position, is not one the registry knows; nothing was kept. Remove"
        " it or correct its name."
    ),
    "missing_column": "This column is needed. Add it; the blank template shows them all.",
    "duplicate_column": "This column is there twice. Keep one.",
    "mixed_shapes": (
        "The header mixes the columns of the long and the wide table. Use one of the two templates."
    ),
    "formula_not_allowed": "The cell holds a formula. Paste the values and send the file again.",
}

DETAIL: Final[dict[str, str]] = {**IN_A_VISIT, **IN_A_RECORD, **OF_A_FILE}


def docs_table() -> str:
    """The catalogue as a Markdown table for the documentation, in the order above."""
    groups = (("a field", IN_A_VISIT), ("a record", IN_A_RECORD), ("the file", OF_A_FILE))
    rows = [
        f"| `{code}` | {refused} | {detail} |"
        for refused, group in groups
        for code, detail in group.items()
    ]
    return "\n".join(("| code | concerns | what it means |", "|---|---|---|", *rows, ""))
