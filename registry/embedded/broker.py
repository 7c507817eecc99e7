"""A message broker of our own on one machine: Valkey (or Redis) on a unix socket.

It keeps nothing: what must survive a restart waits in the database's outbox.
"""

from __future__ import annotations

import atexit
import os
import signal
import subprocess
import time
from pathlib import Path
from types import TracebackType
from typing import Self
from urllib.parse import quote

import redis
from redis.backoff import NoBackoff
from redis.retry import Retry

from registry.embedded.binaries import find_broker
from registry.embedded.lock import locked
from registry.embedded.server_program import run_server_program
from registry.embedded.socket_folder import make_socket_folder, remove_socket_folder

SOCKET_NAME = "broker.sock"
POLL_S = 0.005


class BrokerDidNotStart(Exception):
    """The broker ended or did not answer in time; the message names its log."""


class BrokerDidNotStop(Exception):
    """The broker still answers although it was told to stop."""


class EmbeddedBroker:
    """The broker whose socket and log are in ``data``; nothing else may be kept there.

    As with the database, it ends with this process where the system can see to that.
    """

    def __init__(self, data: Path, *, timeout_s: float = 10.0) -> None:
        self.data = data.resolve()
        self.log = self.data / "server.log"
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

    def start(self) -> str:
        """Start the broker, or find the one that runs already, and return its URL for Celery.

        :raises BrokerDidNotStart: when it gives no answer.
        :raises ProgramNotFound: when no broker is installed.
        """
        self.data.mkdir(mode=0o700, parents=True, exist_ok=True)
        with locked(self.data / "lock"):
            if not self.running():
                self._launch()
        return self.url()

    def stop(self) -> None:
        """Stop the broker, whoever started it; do nothing when none runs.

        :raises BrokerDidNotStop: when it still answers afterwards.
        """
        if not self.data.is_dir():
            return
        with locked(self.data / "lock"):
            if self.running():
                self._client().shutdown(nosave=True)
            self._reap()
            until = time.monotonic() + self._timeout_s
            while self.running():
                if time.monotonic() > until:
                    raise BrokerDidNotStop(str(self.data))
                time.sleep(POLL_S)
            remove_socket_folder(self.data)
        atexit.unregister(self.stop_if_started_here)

    def stop_if_started_here(self) -> None:
        """Stop the broker unless another process, or another object, started it."""
        # A forked process (a web worker) inherits this object and the call at exit.
        if self._process is not None and self._starter == os.getpid():
            self.stop()

    def running(self) -> bool:
        """Tell whether a broker answers on the socket."""
        try:
            return bool(self._client().ping())
        except (redis.ConnectionError, redis.TimeoutError):
            return False

    def url(self) -> str:
        """Return the URL for Celery and kombu; it points to a socket, never to a port."""
        return f"redis+socket://{quote(str(self._socket()))}"

    def _socket(self) -> Path:
        # The folder may be a link to a shorter one; the long path would not fit a socket.
        return (self.data / "socket").resolve() / SOCKET_NAME

    def _client(self) -> redis.Redis:
        # No retries: whether an answer comes is the very question.
        return redis.Redis(
            unix_socket_path=str(self._socket()),
            socket_timeout=self._timeout_s,
            retry=Retry(NoBackoff(), 0),
        )

    def _launch(self) -> None:
        self._reap()
        socket = make_socket_folder(self.data, SOCKET_NAME) / SOCKET_NAME
        words = [str(find_broker()), "--port", "0", "--unixsocket", str(socket)]
        words += ["--unixsocketperm", "700", "--save", "", "--appendonly", "no"]
        words += ["--maxmemory-policy", "noeviction", "--daemonize", "no"]
        words += ["--dir", str(self.data)]
        self._process = run_server_program(
            words, account=None, log=self.log, death_signal=signal.SIGTERM
        )
        self._starter = os.getpid()
        atexit.register(self.stop_if_started_here)
        until = time.monotonic() + self._timeout_s
        while not self.running():
            if self._process.poll() is not None or time.monotonic() > until:
                raise BrokerDidNotStart(f"see {self.log}")
            time.sleep(POLL_S)

    def _reap(self) -> None:
        if self._process is not None:
            self._process.wait(timeout=self._timeout_s)
            self._process = None
