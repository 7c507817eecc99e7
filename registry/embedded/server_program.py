"""Run a program of a server in the background, its words in a log file."""

from __future__ import annotations

import os
import signal
import subprocess
from collections.abc import Mapping, Sequence
from pathlib import Path

from registry.embedded.launch import Account, launch_command


def run_server_program(
    words: Sequence[str],
    *,
    account: Account | None,
    log: Path,
    death_signal: signal.Signals,
) -> subprocess.Popen[bytes]:
    """Start ``words`` and return at once; what it says is added to ``log`` (mode 0600)."""
    return run_logged(
        launch_command(words, account=account, death_signal=death_signal),
        log=log,
        environment=server_environment(),
    )


def run_logged(
    words: Sequence[str], *, log: Path, environment: Mapping[str, str]
) -> subprocess.Popen[bytes]:
    """Start ``words`` in a session of its own, both outputs added to ``log``."""
    with open(log, "ab", opener=_private) as file:
        return subprocess.Popen(  # noqa: S603 - words of our own, no shell
            words,
            stdin=subprocess.DEVNULL,
            stdout=file,
            stderr=file,
            env=environment,
            # Ctrl-C in the terminal would else reach a server before those who still use it.
            start_new_session=True,
        )


def server_environment() -> dict[str, str]:
    """Return this process's environment without what is meant for another PostgreSQL."""
    # PGPORT, PGDATA and their like belong to some other server of this machine.
    kept = {name: text for name, text in os.environ.items() if not name.startswith("PG")}
    # Without LC_ALL the server of macOS starts threads and then refuses to run.
    return {**kept, "LC_ALL": "C"}


def _private(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)
