"""A PostgreSQL of our own on one machine: start it, find it again, stop it.

It listens on a unix socket in a private folder and nowhere else, so whoever may open that
folder may connect, and no password is kept.
"""

from __future__ import annotations

import atexit
import os
import signal
import subprocess
import time
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import Self

from psycopg import pq

from registry.embedded import postmaster
from registry.embedded.binaries import find_postgres
from registry.embedded.cluster import SUPERUSER, create_cluster
from registry.embedded.launch import Account
from registry.embedded.lock import locked
from registry.embedded.server_program import run_server_program
from registry.embedded.socket_folder import make_socket_folder, remove_socket_folder
from registry.embedded.unprivileged import hand_over, server_account
from registry.embedded.urls import database_url

PORT = 5432  # never opened as a TCP port; only part of the socket's name
POLL_S = 0.01
# A killed server's last processes hold its shared memory for a moment longer.
STILL_ENDING = ("shared memory block", "lock file")


class ServerDidNotStart(Exception):
    """The server ended or was not ready in time; the message holds the end of its log."""


class ServerDidNotStop(Exception):
    """The server still runs although it was told to stop."""


class ServerNotRunning(Exception):
    """There is no address to give, because no server runs on this folder."""


@dataclass(frozen=True, slots=True)
class ServerAddress:
    """How to reach a running server."""

    socket_folder: str
    port: int
    pid: int

    def url(self, user: str, database: str) -> str:
        """Return a ``postgresql://`` URL for ``user`` and ``database``."""
        return database_url(user=user, database=database, host=self.socket_folder, port=self.port)


class EmbeddedPostgres:
    """The PostgreSQL whose files are in ``data``; nothing else may be kept in that folder.

    ``durable=False`` leaves out waiting for the disk and is for tests. Where the system can
    (Linux), a server started in the main thread stops when this process ends, even by
    SIGKILL; elsewhere it stops at a regular exit, or is found and used again.
    """

    def __init__(self, data: Path, *, durable: bool = True, timeout_s: float = 30.0) -> None:
        self.data = data.resolve()
        self.cluster = self.data / "cluster"
        self.log = self.data / "server.log"
        self._durable = durable
        self._timeout_s = timeout_s
        self._process: subprocess.Popen[bytes] | None = None
        self._starter = 0

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.stop_if_started_here()

    def start(self) -> ServerAddress:
        """Start the server, or find the one that runs already, and return its address.

        :raises ServerDidNotStart: with the reason the server gave.
        :raises ProgramNotFound: when no PostgreSQL of the right version is installed.
        """
        self.data.mkdir(mode=0o700, parents=True, exist_ok=True)
        with locked(self.data / "lock"):
            return self._wait_for_running() or self._start_stopped()

    def stop(self) -> None:
        """Stop the server, whoever started it; do nothing when none runs.

        :raises ServerDidNotStop: when it ignores even the order to leave its clients.
        """
        if not self.data.is_dir():
            return
        with locked(self.data / "lock"):
            for order in (signal.SIGINT, signal.SIGQUIT):  # fast, then immediate shutdown
                if self._ends_on(order):
                    break
            else:
                raise ServerDidNotStop(str(self.data))
            remove_socket_folder(self.data)
        self._reap()
        atexit.unregister(self.stop_if_started_here)

    def stop_if_started_here(self) -> None:
        """Stop the server unless another process, or another object, started it."""
        # A forked process (a web worker) inherits this object and the call at exit.
        if self._process is not None and self._starter == os.getpid():
            self.stop()

    def running(self) -> bool:
        """Tell whether a server runs on the folder, also one that another process started."""
        return postmaster.find(self.cluster) is not None

    def url(self, user: str, database: str) -> str:
        """Return the URL of ``database`` for ``user``.

        :raises ServerNotRunning: before ``start`` and after ``stop``.
        """
        file = postmaster.find(self.cluster)
        if file is None or not file.socket_folder:
            raise ServerNotRunning(str(self.data))
        return _address(file).url(user, database)

    @cached_property
    def _binaries(self) -> Path:
        try:
            major = int((self.cluster / "PG_VERSION").read_text())
        except FileNotFoundError:
            major = None
        return find_postgres(major)

    def _start_stopped(self) -> ServerAddress:
        account = server_account(self.data, self._binaries / "postgres")
        hand_over(self.data, account)
        if not self.cluster.exists():
            create_cluster(
                self.cluster,
                binaries=self._binaries,
                account=account,
                durable=self._durable,
                log=self.log,
            )
        until = time.monotonic() + self._timeout_s
        while True:
            log_from = self.log.stat().st_size if self.log.exists() else 0
            self._launch(account)
            if address := self._wait_for_running():
                return address
            said = self._log_after(log_from)
            if time.monotonic() > until or not any(words in said for words in STILL_ENDING):
                raise ServerDidNotStart(said or "it said nothing")
            time.sleep(10 * POLL_S)

    def _launch(self, account: Account | None) -> None:
        postmaster.forget_dead_server(self.cluster)
        folder = make_socket_folder(self.data, f".s.PGSQL.{PORT}.lock")
        hand_over(folder, account)
        words = postmaster.command(
            self._binaries / "postgres",
            self.cluster,
            socket_folder=folder,
            port=PORT,
            durable=self._durable,
        )
        self._reap()
        self._process = run_server_program(
            words, account=account, log=self.log, death_signal=signal.SIGINT
        )
        self._starter = os.getpid()
        atexit.register(self.stop_if_started_here)

    def _wait_for_running(self) -> ServerAddress | None:
        """Wait while a server is on its way up or down; ``None`` when none is there."""
        until = time.monotonic() + self._timeout_s
        while time.monotonic() < until:
            file = postmaster.find(self.cluster)
            if file is not None and file.ready and _answers(_address(file)):
                return _address(file)
            launched = self._process is not None and self._process.poll() is None
            if file is None and not launched:
                return None
            time.sleep(POLL_S)
        raise ServerDidNotStart(f"not ready after {self._timeout_s} s; see {self.log}")

    def _ends_on(self, order: signal.Signals) -> bool:
        until = time.monotonic() + self._timeout_s / 2
        told = False
        while time.monotonic() < until:
            if self._process is not None:
                self._process.poll()  # a dead child counts as a process until it is waited for
            file = postmaster.find(self.cluster)
            if file is None:
                return True
            if not told:
                with suppress(ProcessLookupError):  # it may have ended since it was found
                    os.kill(file.pid, order)
                told = True
            time.sleep(POLL_S)
        return False

    def _reap(self) -> None:
        """Wait for a server of ours that has ended; unreaped it would keep its process id."""
        if self._process is not None:
            self._process.wait(timeout=self._timeout_s)
            self._process = None

    def _log_after(self, position: int) -> str:
        with open(self.log, "rb") as log:
            log.seek(position)
            return log.read().decode(errors="replace").strip()


def _answers(address: ServerAddress) -> bool:
    """Tell whether the server takes connections.

    The file alone still says "ready" for a moment after the server was killed, or after it
    was told to stop with the process that had started it.
    """
    conninfo = address.url(SUPERUSER, SUPERUSER).encode()
    return pq.PGconn.ping(conninfo) == pq.Ping.OK


def _address(file: postmaster.PidFile) -> ServerAddress:
    return ServerAddress(file.socket_folder, file.port, file.pid)
