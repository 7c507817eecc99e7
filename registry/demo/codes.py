"""Codes for visits and subjects: random letters, as a clinic that follows the rules mints them."""

from __future__ import annotations

from typing import Final

import numpy as np

# Consonants only: no word, name or date can come out by chance.
_LETTERS: Final = np.frombuffer(b"BCDFGHJKLMNPQRSTVWXZ", dtype="S1")
_LENGTH: Final = 9


def random_codes(rng: np.random.Generator, prefix: str, count: int) -> list[str]:
    """``count`` different codes such as ``V-KQMPXBRTZ``, in random order.

    20 letters to the power of 9 are 5e11 codes; the few that come twice are drawn again.
    """
    codes: dict[str, None] = {}
    while len(codes) < count:
        letters = rng.choice(_LETTERS, size=(count - len(codes), _LENGTH))
        words = np.ascontiguousarray(letters).view(f"S{_LENGTH}").ravel().tolist()
        codes.update((f"{prefix}-{word.decode('ascii')}", None) for word in words)
    return list(codes)
