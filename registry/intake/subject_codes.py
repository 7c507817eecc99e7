"""Random codes for subjects and visits, with a check character that catches slips of the hand.

A code tells nothing about the person (45 CFR 164.514(c)): twelve random letters, about 50 bits
of which the choice of check character takes one. No vowels, so that no word appears; no digits,
so that no date appears; no letter that is easily read as another (L as I or 1, V as U).
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable
from typing import Final

ALPHABET: Final = "BCDFGHJKMNPQRSTWXZ"
RANDOM_LETTERS: Final = 12

_PREFIX: Final = re.compile(r"[A-Z]{1,2}")
_MINTED: Final = re.compile(rf"([A-Z]{{1,2}})-([{ALPHABET}]{{{RANDOM_LETTERS + 1}}})")
_ISO_7064_ALPHANUMERIC: Final = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
# Bytes at or above this would make the first letters likelier than the last ones.
_FAIR_BELOW: Final = 256 - 256 % len(ALPHABET)
_DRAWS_AT_MOST: Final = 1_000


class PrefixNotAllowed(ValueError):
    """A prefix is one or two capital letters: three would count as a word to the guard."""


class NoRandomness(RuntimeError):
    """The source of random bytes never gave a usable code; it is not random."""


def mint(prefix: str, draw: Callable[[int], bytes] = secrets.token_bytes) -> str:
    """A new code such as ``S-HTKQBMXNPRCDG``; ``draw(n)`` gives n random bytes.

    Never refused by the identifier guard. Two codes of a million agree with a chance below one
    in a thousand; the unique key of the database has the last word.

    :raises PrefixNotAllowed: unless ``prefix`` is one or two capital letters.
    :raises NoRandomness: if ``draw`` keeps giving bytes that cannot be used.
    """
    if _PREFIX.fullmatch(prefix) is None:
        raise PrefixNotAllowed
    for _ in range(_DRAWS_AT_MOST):
        letters = _letters(draw(2 * RANDOM_LETTERS))
        check = check_character(prefix + letters)
        # The standard's check character may be a digit or a vowel; such a code is drawn again,
        # which keeps both the standard and our alphabet.
        if len(letters) == RANDOM_LETTERS and check in ALPHABET:
            return f"{prefix}-{letters}{check}"
    raise NoRandomness


def check_character_ok(code: str) -> bool:
    """Whether ``code`` is written as minted and its last letter agrees with the others.

    False for a clinic's own code, which has no check character.
    """
    match = _MINTED.fullmatch(code)
    return match is not None and check_character(match[1] + match[2][:-1]) == match[2][-1]


def check_character(text: str) -> str:
    """The ISO/IEC 7064:2003 MOD 37,36 check character of capital letters and digits.

    It catches every single wrong character and nearly every swap of two neighbours.
    """
    remainder = 36
    for character in text:
        total = (remainder + _ISO_7064_ALPHANUMERIC.index(character)) % 36 or 36
        remainder = 2 * total % 37
    return _ISO_7064_ALPHANUMERIC[(37 - remainder) % 36]


def _letters(drawn: bytes) -> str:
    fair = (byte for byte in drawn if byte < _FAIR_BELOW)
    return "".join(ALPHABET[byte % len(ALPHABET)] for byte in fair)[:RANDOM_LETTERS]
