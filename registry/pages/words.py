"""Plain words for every code a page may have to show: the one catalogue.

Ears, directions and temperatures are said in words, never by a colour or a bare sign. The
wording states what was measured or done; it names no disease and calls nothing normal.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from registry.pages.field_words import WRITTEN, Words
from registry.pages.result_words import FOUND

FIELD_WORDS: Final[Mapping[str, Words]] = {**WRITTEN, **FOUND}

INDEX_NAMES: Final[Words] = {
    "unilateral_weakness_percent": "unilateral weakness",
    "directional_preponderance_percent": "directional preponderance",
    "total_spv": "total response",
}

NOT_RECORDED: Final = "not recorded"


def say(field: str, code: object) -> str:
    """Words for a code of a field; "not recorded" for nothing.

    A code without words, which only a newer version could have stored, is shown with its
    underscores opened rather than hidden.
    """
    if code is None or code == "":
        return NOT_RECORDED
    text = str(code).lower() if isinstance(code, bool) else str(code)
    return FIELD_WORDS.get(field, {}).get(text) or text.replace("_", " ")


def irrigation_name(name: object) -> str:
    """``right_warm_2`` as "right ear, warm, attempt 2"; "the whole visit" for nothing."""
    if not name:
        return "the whole visit"
    ear, stimulus, attempt = str(name).rsplit("_", 2)
    said = f"{say('ear', ear)}, {stimulus}"
    return said if attempt == "1" else f"{said}, attempt {attempt}"
