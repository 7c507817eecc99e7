"""From a cell of a table to a value as JSON has it, by the kind of its column. No judgement.

What cannot be read stays as text, and the checks refuse it there with its place.
"""

from __future__ import annotations

import re
from datetime import date, datetime, time
from typing import Final

from registry.intake.fields import Kind

BLANK: Final = None

_WHOLE: Final = re.compile(r"[+-]?[0-9]{1,15}")
_NUMBER: Final = re.compile(
    r"[+-]?(?:[0-9]{1,300}(?:\.[0-9]{1,300})?|\.[0-9]{1,300})(?:[eE][+-]?[0-9]{1,2})?"
)
_YES_NO: Final = {"true": True, "false": False}


def value_of(cell: object, kind: Kind, *, comma: bool) -> object:
    """The value of a cell, or ``BLANK``. ``comma``: a decimal comma is read as a point."""
    if isinstance(cell, str):
        cell = cell.strip()
        return _from_text(cell, kind, comma) if cell else BLANK
    if cell is None or isinstance(cell, bool):
        return cell
    if isinstance(cell, (int, float)):
        return cell if kind in ("number", "whole") else _as_text(cell)
    return _from_clock(cell, kind)


def _from_text(text: str, kind: Kind, comma: bool) -> object:
    if kind in ("number", "whole"):
        return _number(text.replace(",", ".", 1) if comma else text, text)
    if kind == "yes_no":
        return _YES_NO.get(text.lower(), text)
    if kind == "words":
        return [word.strip() for word in text.split("|")]
    return text


def _number(text: str, as_sent: str) -> object:
    if _WHOLE.fullmatch(text):
        return int(text)
    return float(text) if _NUMBER.fullmatch(text) else as_sent


def _as_text(number: int | float) -> str:
    """A code of digits alone, which a spreadsheet takes for a number."""
    return str(int(number)) if float(number).is_integer() else repr(number)


def _from_clock(cell: object, kind: Kind) -> object:
    """A date or time cell of a spreadsheet, in ISO 8601; a day at midnight is a day."""
    if isinstance(cell, datetime):
        if kind == "date" and cell.time() == time():
            return cell.date().isoformat()
        return cell.isoformat(timespec="milliseconds" if cell.microsecond else "seconds")
    return cell.isoformat() if isinstance(cell, date) else str(cell)
