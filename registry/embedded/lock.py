"""One process at a time may start or stop the server of a data folder."""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """Hold an exclusive lock on the file ``path``; wait for whoever holds it.

    The kernel frees the lock when its holder ends, so a killed process leaves none behind.
    """
    file = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield
    finally:
        os.close(file)
