"""Which version a change is made to (RFC 9110, 13.1.1), so that nobody's change is lost."""

from __future__ import annotations

import re
from typing import Final

from rest_framework.request import Request

from registry.api.problems import Problem

_VERSION: Final = re.compile(r'"([1-9][0-9]{0,8})"')


def etag_of(version: int) -> str:
    return f'"{version}"'


def expected_version(request: Request) -> int:
    """The version named in ``If-Match``; ``*`` names none, so it is not taken.

    :raises Problem: if it is absent, or none that a version could be.
    """
    text = request.headers.get("If-Match", "").strip()
    if text in ("", "*"):
        raise Problem("version_needed")
    match = _VERSION.fullmatch(text)
    if match is None:
        # A weak tag, or another object's: no version of ours is like it.
        raise Problem("version_mismatch")
    return int(match[1])
