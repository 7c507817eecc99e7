"""Keyed digests: enough to recognise a secret or an erased reference, useless to read it back."""

from __future__ import annotations

import hashlib
import hmac

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured


def digest_keys() -> dict[int, bytes]:
    """The numbered keys of ``DIGEST_KEYS``; the highest number is the one to sign with.

    :raises ImproperlyConfigured: if there is none or the form is not ``number:key,...``.
    """
    keys: dict[int, bytes] = {}
    for part in settings.DIGEST_KEYS.split(","):
        number, _, key = part.partition(":")
        if not number.isdigit() or len(key) < 32:
            raise ImproperlyConfigured(
                "DIGEST_KEYS must be number:key, ... with keys of at least 32 characters."
            )
        keys[int(number)] = key.encode()
    return keys


def keyed_digest(purpose: str, text: str, *, key: bytes) -> bytes:
    """HMAC-SHA-256 (RFC 2104) of ``text``; one purpose's digest is of no use for another."""
    return hmac.new(key, f"{purpose}\0{text}".encode(), hashlib.sha256).digest()


def signing_key() -> tuple[int, bytes]:
    keys = digest_keys()
    number = max(keys)
    return number, keys[number]


def all_digests(purpose: str, text: str) -> list[bytes]:
    """The digest of ``text`` under every key still held, for finding an old one."""
    return [keyed_digest(purpose, text, key=key) for key in digest_keys().values()]
