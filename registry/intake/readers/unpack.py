"""Bytes in, bytes out, counted: how a file that is too large or a bomb is stopped on the way."""

from __future__ import annotations

import gzip
import io
import zlib
from typing import BinaryIO, Final

from registry.intake.readers.record import FileRefused, ReadLimits

_GZIP: Final = b"\x1f\x8b"
_BLOCK: Final = 256 * 1024
_LOOK_AT: Final = 4096


def opened(stream: BinaryIO, limits: ReadLimits) -> io.BufferedReader:
    """The stream with its size watched, and unpacked if it is gzip.

    :raises FileRefused: here or while reading; ``file_empty`` ``file_too_large``
        ``unpacked_too_large`` ``not_readable``.
    """
    counted = _Counted(stream, limits.file, "file_too_large")
    packed: io.BufferedReader = io.BufferedReader(counted, _BLOCK)
    start = packed.peek(_LOOK_AT)
    if not start:
        raise FileRefused("file_empty")
    if not start.startswith(_GZIP):
        return packed
    unpacked = gzip.GzipFile(fileobj=packed)
    return io.BufferedReader(_Counted(unpacked, limits.unpacked, "unpacked_too_large"), _BLOCK)


class _Counted(io.RawIOBase):
    """Passes on what it reads until there is too much of it."""

    def __init__(self, source: BinaryIO | gzip.GzipFile, most: int, code: str) -> None:
        self._source = source
        self._left = most
        self._code = code

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: memoryview) -> int:  # type: ignore[override]
        try:
            block = self._source.read(len(buffer))
        except (OSError, EOFError, zlib.error):
            # A broken gzip. A failing disk looks the same here, and the file can be sent again.
            raise FileRefused("not_readable") from None
        self._left -= len(block)
        if self._left < 0:
            raise FileRefused(self._code)
        buffer[: len(block)] = block
        return len(block)
