"""Strict JSON: what two readers could understand in two ways is refused.

Python's own decoder takes NaN, takes the last of two equal names, and follows any depth.
RFC 8259 leaves all three to the reader, so a clinic's system and the registry could each
store something else.
"""

from __future__ import annotations

import json
import math
import re
from typing import Any, Final, NoReturn

DEEPEST: Final = 32

_STRING: Final = re.compile(r'"[^"\\]*(?:\\.[^"\\]*)*"', re.DOTALL)
_INFINITE: Final = (math.inf, -math.inf)
_BRACKET: Final = re.compile(r"[\[\]{}]")


class NotJson(Exception):
    """The bytes are no JSON we accept.

    ``code`` is one of ``not_json`` ``not_utf8`` ``not_finite`` ``number_too_large``
    ``duplicate_key`` ``too_deep``. Holds nothing of the bytes.
    """

    def __init__(self, code: str) -> None:
        super().__init__(code)
        self.code = code


def parse_json(data: bytes) -> object:
    """The value that ``data`` holds; a byte order mark before it is passed over.

    :raises NotJson: for anything but one JSON value in UTF-8, for NaN and infinities, for a name
        that comes twice in an object, for 32 levels of nesting or more.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise NotJson("not_utf8") from None
    if _is_deep(text):
        raise NotJson("too_deep")
    try:
        value: object = _DECODER.decode(text)
    except (ValueError, RecursionError):
        # The decoder's own error would quote the text.
        raise NotJson("not_json") from None
    return value


def _is_deep(text: str) -> bool:
    if text.count("[") + text.count("{") < DEEPEST:
        return False
    depth = 0
    for bracket in _BRACKET.findall(_STRING.sub("", text)):
        depth += 1 if bracket in "[{" else -1
        if depth >= DEEPEST:
            return True
    return False


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) != len(pairs):
        raise NotJson("duplicate_key")
    return members


def _float(text: str) -> float:
    value = float(text)
    if value in _INFINITE:
        # Beyond the largest float, where Python says infinity without a word.
        raise NotJson("number_too_large")
    return value


def _not_finite(_name: str) -> NoReturn:
    raise NotJson("not_finite")


_DECODER: Final = json.JSONDecoder(
    object_pairs_hook=_object, parse_float=_float, parse_constant=_not_finite
)
