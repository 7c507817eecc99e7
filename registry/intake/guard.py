"""Does a code look as if it names a person? Then it is neither stored, logged nor echoed.

Codes are meant to be random: ``V-KQMPX``, ``T-07``. Clinics that derive them from a name, a
birth date or a record number would quietly make the registry identifiable (45 CFR 164.514(c)
forbids codes derived from the person), so the shapes such codes take are refused. Where a
shape can be read both ways, as ``S-12-03-45`` can, it is refused: a false alarm costs a new
code, a miss costs somebody's privacy.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Final

from registry.intake.guard_dates import holds_date

CODE_PATTERN: Final = r"^[A-Za-z0-9._-]{3,40}$"
MOST_DIGITS: Final = 5

_CODE: Final = re.compile(r"[A-Za-z0-9._-]{3,40}")
_EMAIL_OR_SPACE: Final = re.compile(r"[@\s]")
_TOKEN: Final = re.compile(r"[^\W_]+")
_DIGITS: Final = re.compile(r"\d")
_VOWEL: Final = re.compile(r"[aeiouyà-æè-ïò-öø-ÿ]", re.IGNORECASE)
# Long enough for any code and any free text that is guarded, short enough to be quick.
_READ_AT_MOST: Final = 1_000


def is_code(text: str) -> bool:
    """Whether ``text`` is written as codes are: 3 to 40 of ``A-Z a-z 0-9 . _ -``."""
    return _CODE.fullmatch(text) is not None


def looks_like_identifier(text: str) -> bool:
    """Whether ``text`` has a shape that names, dates and record numbers have.

    True for an e-mail address, white space, any date form, more than five digits in all, or two
    or more words of three letters or more joined by a separator.
    """
    text = text[:_READ_AT_MOST]
    if not text.isascii():
        # Full-width digits and ligatures would otherwise walk past every pattern below.
        text = unicodedata.normalize("NFKC", text)
    return (
        _EMAIL_OR_SPACE.search(text) is not None
        or len(_DIGITS.findall(text)) > MOST_DIGITS
        or _has_two_words(text)
        or holds_date(text)
    )


def note_names_somebody(text: str) -> bool:
    """Whether a sentence holds what names a person: an e-mail address, a date, a long number.

    Words are what a note is made of, so they alone refuse none; who writes is told to name nobody.
    """
    text = unicodedata.normalize("NFKC", text[:_READ_AT_MOST])
    numbers = re.findall(r"\d[\d .,/-]*", text)
    long_number = any(len(_DIGITS.findall(number)) > MOST_DIGITS for number in numbers)
    return "@" in text or long_number or holds_date(text)


def _has_two_words(text: str) -> bool:
    return sum(map(_is_word, _TOKEN.findall(text))) >= 2


def _is_word(token: str) -> bool:
    """Three letters or more; beside digits (``smith01``) only if it can be spoken.

    Random groups such as ``HTK4`` have letters in a row too, but seldom a vowel among them.
    """
    letters = token.strip("0123456789")
    if len(letters) < 3 or not letters.isalpha():
        return False
    return letters == token or _VOWEL.search(letters) is not None
