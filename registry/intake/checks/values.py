"""One value against its field: type, closed list, range. Strict, because a guess is a wrong result.

A checker gives back the value as it is kept, or a ``Wrong`` with the code of the fault.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, tzinfo
from functools import partial
from typing import Final

from registry.intake.fields import Field
from registry.intake.guard import is_code, looks_like_identifier, note_names_somebody


@dataclass(frozen=True, slots=True)
class Wrong:
    """A refused value, without the value."""

    code: str


Checker = Callable[[object], object]

NOT_TEXT: Final = Wrong("not_text")
NOT_IN_LIST: Final = Wrong("not_in_list")
NOT_A_NUMBER: Final = Wrong("not_a_number")
NOT_FINITE: Final = Wrong("not_finite")
OUT_OF_RANGE: Final = Wrong("out_of_range")
NOT_WHOLE: Final = Wrong("not_a_whole_number")
NOT_YES_NO: Final = Wrong("not_true_or_false")
NOT_A_DATE: Final = Wrong("not_a_date")
NOT_A_TIME: Final = Wrong("not_a_time")
NO_OFFSET: Final = Wrong("time_without_offset")
NOT_A_LIST: Final = Wrong("not_a_list")
REPEATED_ITEM: Final = Wrong("item_repeated")
IDENTIFIER: Final = Wrong("looks_like_identifier")
NOT_A_CODE: Final = Wrong("code_not_allowed")
TOO_LONG: Final = Wrong("note_too_long")
NOTE_IDENTIFIER: Final = Wrong("note_names_somebody")

NOTE_LENGTH: Final = 500

_DATE: Final = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_TIME: Final = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt ][0-9]{2}:[0-9]{2}:[0-9]{2}(?:\.[0-9]{1,6})?"
    r"([Zz]|[+-][0-9]{2}:[0-9]{2})?"
)


def checker_for(field: Field) -> Checker:
    """The checker of one field; every pattern and set is made here, once."""
    if field.kind == "word":
        return partial(_word, frozenset(field.words))
    if field.kind == "words":
        return partial(_words, frozenset(field.words))
    if field.kind in ("number", "whole"):
        low = -math.inf if field.low is None else field.low
        high = math.inf if field.high is None else field.high
        return partial(number if field.kind == "number" else _whole, low, high)
    plain: dict[str, Checker] = {
        "code": _code,
        "yes_no": _yes_no,
        "date": _date,
        "time": _time,
        "note": _note,
    }
    return plain[field.kind]


def number(low: float, high: float, value: object) -> float | Wrong:
    """A finite number from ``low`` to ``high``. ``True`` is none, and neither is ``"31.2"``."""
    if type(value) is not float and type(value) is not int:
        return NOT_A_NUMBER
    if low <= value <= high:
        # Adding 0 turns -0.0 into 0.0, so that equal results have equal digests.
        return float(value) + 0.0
    return OUT_OF_RANGE if type(value) is int or math.isfinite(value) else NOT_FINITE


def started_at_in(zone: tzinfo | None) -> Checker:
    """A checker of times that reads one without an offset as the clinic's own time."""
    return _time if zone is None else partial(_time, zone=zone)


def _whole(low: float, high: float, value: object) -> int | Wrong:
    checked = number(low, high, value)
    if isinstance(checked, Wrong):
        return checked
    return int(checked) if checked.is_integer() else NOT_WHOLE


def _word(allowed: frozenset[str], value: object) -> object:
    if type(value) is not str:
        return NOT_TEXT
    return value if value in allowed else NOT_IN_LIST


def _words(allowed: frozenset[str], value: object) -> tuple[str, ...] | Wrong:
    if type(value) is not list:
        return NOT_A_LIST
    if not all(type(item) is str for item in value):
        return NOT_TEXT
    if not allowed.issuperset(value):
        return NOT_IN_LIST
    return tuple(value) if len(set(value)) == len(value) else REPEATED_ITEM


def _code(value: object) -> object:
    if type(value) is not str:
        return NOT_TEXT
    # The guard goes first: what may name a person must be called so, whatever else is wrong.
    if looks_like_identifier(value):
        return IDENTIFIER
    return value if is_code(value) else NOT_A_CODE


def _yes_no(value: object) -> object:
    return value if type(value) is bool else NOT_YES_NO


def _date(value: object) -> date | Wrong:
    # Python alone would also take 20260302 and 2026-W10-1, and 02/03/2026 is never guessed.
    if type(value) is not str or _DATE.fullmatch(value) is None:
        return NOT_A_DATE
    try:
        return date.fromisoformat(value)
    except ValueError:
        return NOT_A_DATE


def _time(value: object, *, zone: tzinfo | None = None) -> datetime | Wrong:
    match = _TIME.fullmatch(value) if type(value) is str else None
    if match is None:
        return NOT_A_TIME
    try:
        moment = datetime.fromisoformat(match[0])
        if match[1] is None:
            if zone is None:
                return NO_OFFSET
            moment = moment.replace(tzinfo=zone)
        return moment.astimezone(UTC)
    except (ValueError, OverflowError):
        return NOT_A_TIME


def _note(value: object) -> str | Wrong:
    """A short sentence of free text, the only one there is; never in a visit."""
    if type(value) is not str:
        return NOT_TEXT
    if len(value) > NOTE_LENGTH:
        return TOO_LONG
    if "\x00" in value or note_names_somebody(value):
        return NOTE_IDENTIFIER
    return value.strip()
