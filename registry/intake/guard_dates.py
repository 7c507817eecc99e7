"""The forms dates take inside a code, short of the six digits that are refused anyway."""

from __future__ import annotations

import re
from typing import Final

# Names that are words of other languages too ("set", "out", "mai") count only between a day and
# a year; the English ones also with just one number beside them ("MAR90", "2-Mar").
_ENGLISH: Final = (
    "jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?"
    "|sept?(?:ember)?|oct(?:ober)?|nov(?:ember)?|dec(?:ember)?"
)
_OTHER: Final = (
    "jän(?:ner|uar)?|januar|februar|märz|maerz|mrz|mai|juni|juli|okt(?:ober)?|dez(?:ember)?"
    "|janv(?:ier)?|févr(?:ier)?|fevr(?:ier)?|mars|avr(?:il)?|juin|juil(?:let)?|août|aout"
    "|sept(?:embre)?|octobre|novembre|déc(?:embre)?"
    "|ene(?:ro)?|febrero|marzo|abr(?:il)?|mayo|junio|julio|ago(?:sto)?|sep?t?iembre|octubre"
    "|noviembre|dic(?:iembre|embre)?|gen(?:naio)?|febbraio|aprile|mag(?:gio)?|giu(?:gno)?"
    "|lug(?:lio)?|set(?:tembre)?|ott(?:obre)?|fev(?:ereiro)?|mrt|maart|mei|out(?:ubro)?"
)
_SEPARATOR: Final = r"[-._/,' ]{0,2}"

_NUMBERS: Final = (
    # 3-2-90, 90.2.3; whether these are possible days and months is asked below.
    r"(?<!\d)(?P<a>\d{1,2})[-._/](?P<b>\d{1,2})[-._/](?P<c>\d{1,2})(?!\d)",
    # 3-1990, 1990-3
    r"(?<!\d)(?:0?[1-9]|1[0-2])[-._/](?:19|20)\d\d(?!\d)",
    r"(?<!\d)(?:19|20)\d\d[-._/](?:0?[1-9]|1[0-2])(?!\d)",
    # 3/2, which no code may hold but free text may
    r"(?<!\d)\d{1,2}/\d{1,2}(?!\d)",
    # 2.III.90; with dots only, because S-12-V-03 is a common way to number visits
    r"(?<!\d)\d{1,2}\.(?:I{1,3}|IV|VI{0,3}|IX|XI{0,2})\.\d{2,4}(?!\d)",
)
_MONTHS: Final = (
    # 02MAR90, 1990-Mar-2, 2-Mar, MAR90, March-2-90
    rf"(?<!\d)\d{{1,4}}{_SEPARATOR}(?:{_ENGLISH}|{_OTHER}){_SEPARATOR}\d{{1,4}}(?!\d)",
    rf"(?<!\d)\d{{1,2}}{_SEPARATOR}(?:{_ENGLISH})(?![^\W\d_])",
    rf"(?<![^\W\d_])(?:{_ENGLISH}){_SEPARATOR}\d{{2,4}}(?!\d)",
    rf"(?<![^\W\d_])(?:{_ENGLISH}|{_OTHER}){_SEPARATOR}\d{{1,2}}[-._/,' ]{{1,2}}\d{{2,4}}(?!\d)",
)
_NUMERIC, *_NUMERIC_SURE = (re.compile(form, re.IGNORECASE) for form in _NUMBERS)
_WORDED: Final = tuple(re.compile(form, re.IGNORECASE) for form in _MONTHS)
_DIGIT: Final = re.compile(r"\d")
_WORD: Final = re.compile(r"[^\W\d_]{3}")
_BETWEEN_DIGITS: Final = re.compile(r"\d[-._/]\w+")


def holds_date(text: str) -> bool:
    """Whether a calendar date, or a month of a year, stands anywhere in ``text``.

    A bare year is none: 45 CFR 164.514(b)(2) lets years stand, and ``S-2041`` is a number.
    """
    # Most codes are decided here: the forms below cost ten times as much as these look-outs.
    if _DIGIT.search(text) is None:
        return False
    return (_BETWEEN_DIGITS.search(text) is not None and _holds_numeric(text)) or (
        _WORD.search(text) is not None and any(form.search(text) for form in _WORDED)
    )


def _holds_numeric(text: str) -> bool:
    return any(form.search(text) for form in _NUMERIC_SURE) or any(
        _is_possible(found) for found in _overlapping(text)
    )


def _overlapping(text: str) -> list[tuple[str, str, str]]:
    """Each run of three short numbers, also where runs share a number (1-40-3-2-90)."""
    found, start = [], 0
    while match := _NUMERIC.search(text, start):
        found.append((match["a"], match["b"], match["c"]))
        start = match.end("a")
    return found


def _is_possible(numbers: tuple[str, str, str]) -> bool:
    """Day, month and two-digit year in any usual order; ``1.2.3`` is a version, not a date."""
    first, second, third = numbers
    return (len(third) == 2 and _is_day_and_month(first, second)) or (
        len(first) == 2 and _is_day_and_month(second, third)
    )


def _is_day_and_month(one: str, other: str) -> bool:
    low, high = sorted((int(one), int(other)))
    return 1 <= low <= 12 and high <= 31
