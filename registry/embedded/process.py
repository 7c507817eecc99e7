"""The processes of one start, web and worker: started in order, stopped in reverse order."""

from __future__ import annotations

import atexit
import os
import signal
import subprocess
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import FrameType, TracebackType
from typing import Self

from registry.embedded.launch import launch_command
from registry.embedded.server_program import run_logged

STOP_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
POLL_S = 0.1


@dataclass(frozen=True, slots=True)
class Child:
    name: str
    process: subprocess.Popen[bytes]


class Children:
    """Child processes that do not outlive this one; leaving the ``with`` block stops them.

    Each writes to ``<logs>/<name>.log``. Where the system can (Linux), a child started in the
    main thread is told to stop even when this process is killed; elsewhere at a regular exit.
    """

    def __init__(self, logs: Path, *, grace_s: float = 10.0) -> None:
        self._logs = logs
        self._grace_s = grace_s
        self._children: list[Child] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.stop()

    def start(
        self, name: str, command: Sequence[str], *, environment: Mapping[str, str] | None = None
    ) -> int:
        """Start ``command`` and return its process id; ``environment`` is added to ours."""
        self._logs.mkdir(mode=0o700, parents=True, exist_ok=True)
        process = run_logged(
            launch_command(command, death_signal=signal.SIGTERM),
            log=self._logs / f"{name}.log",
            environment={**os.environ, **(environment or {})},
        )
        if not self._children:
            atexit.register(self._stop_at_exit, os.getpid())
        self._children.append(Child(name, process))
        return process.pid

    def ended(self) -> str | None:
        """Return the name of the first child that has ended by itself, if one has."""
        for child in self._children:
            if child.process.poll() is not None:
                return child.name
        return None

    def wait(self) -> str | None:
        """Block until this process is told to stop or a child ends; then stop all of them.

        Returns the name of the child that ended, ``None`` after SIGINT, SIGTERM or SIGHUP.
        Call it in the main thread, the only one that may handle signals.
        """
        with _noticing(STOP_SIGNALS) as noticed:
            while not noticed and self.ended() is None:
                time.sleep(POLL_S)
            name = None if noticed else self.ended()
            # Still inside: a second Ctrl-C must not leave half of them running.
            self.stop()
        return name

    def stop(self) -> None:
        """Stop the children, the last started first, each before the next is told."""
        while self._children:
            _stop(self._children[-1].process, self._grace_s)
            self._children.pop()
        atexit.unregister(self._stop_at_exit)

    def _stop_at_exit(self, starter: int) -> None:
        # A forked process inherits this call, but the children are not its own.
        if starter == os.getpid():
            self.stop()


def _stop(process: subprocess.Popen[bytes], grace_s: float) -> None:
    if process.poll() is not None:
        return
    process.terminate()
    try:
        process.wait(grace_s)
    except subprocess.TimeoutExpired:
        # With its group, which holds what the child itself started.
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()


@contextmanager
def _noticing(signals: Sequence[signal.Signals]) -> Iterator[list[int]]:
    """Collect the signals that arrive, and give their old meaning back afterwards."""
    noticed: list[int] = []

    def notice(number: int, frame: FrameType | None) -> None:
        noticed.append(number)

    before = {each: signal.signal(each, notice) for each in signals}
    try:
        yield noticed
    finally:
        for each, handler in before.items():
            signal.signal(each, handler)
