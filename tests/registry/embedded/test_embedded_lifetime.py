"""A server ends with the process that started it, and with no other."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from registry.embedded.postgres import EmbeddedPostgres

RunPython = Callable[..., "subprocess.Popen[str]"]
START = """
import sys
from pathlib import Path
from registry.embedded.postgres import EmbeddedPostgres
server = EmbeddedPostgres(Path(sys.argv[1]), durable=False)
print(server.start().pid, flush=True)
"""
START_AND_STAY = START + "import time; time.sleep(60)\n"
START_AND_FORK = (
    START
    + """
import os
if os.fork() == 0:
    sys.exit()
os.wait()
print(server.running(), flush=True)
"""
)


def ends_within(seconds: float, server: EmbeddedPostgres) -> bool:
    until = time.monotonic() + seconds
    while server.running() and time.monotonic() < until:
        time.sleep(0.01)
    return not server.running()


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells a child of such a death")
def test_a_server_ends_when_its_starter_is_killed(
    server: EmbeddedPostgres, run_python: RunPython
) -> None:
    starter = run_python(START_AND_STAY, server.data)
    assert starter.stdout is not None
    assert int(starter.stdout.readline()) > 0
    assert server.running()

    starter.send_signal(signal.SIGKILL)

    assert ends_within(5, server)


def test_a_start_right_after_the_starter_was_killed_succeeds(
    server: EmbeddedPostgres, run_python: RunPython, ask: Callable[..., str]
) -> None:
    starter = run_python(START_AND_STAY, server.data)
    assert starter.stdout is not None
    first = int(starter.stdout.readline())
    starter.send_signal(signal.SIGKILL)
    starter.wait()

    second = server.start()

    assert ask(server, "SELECT 1") == "1"
    assert sys.platform != "linux" or second.pid != first


def test_a_server_ends_when_its_starter_leaves_without_a_word(
    server: EmbeddedPostgres, run_python: RunPython
) -> None:
    starter = run_python(START, server.data)

    assert starter.wait(20) == 0
    assert not server.running()


def test_a_process_that_only_found_the_server_does_not_stop_it(
    server: EmbeddedPostgres, run_python: RunPython
) -> None:
    pid = server.start().pid

    finder = run_python(START, server.data)

    assert finder.wait(20) == 0
    assert server.running()
    assert server.start().pid == pid


def test_a_forked_process_does_not_take_the_server_along(
    server: EmbeddedPostgres, run_python: RunPython
) -> None:
    starter = run_python(START_AND_FORK, server.data)

    assert starter.communicate(timeout=20)[0].split()[-1] == "True"


def test_any_process_may_stop_the_server(server: EmbeddedPostgres, run_python: RunPython) -> None:
    starter = run_python(START_AND_STAY, server.data)
    assert starter.stdout is not None
    starter.stdout.readline()

    server.stop()

    assert not server.running()
    assert starter.poll() is None


def test_two_starts_at_the_same_time_give_one_server(
    server: EmbeddedPostgres, run_python: RunPython
) -> None:
    both = [run_python(START_AND_STAY, server.data) for _ in range(2)]

    pids = [process.stdout.readline() for process in both if process.stdout]

    assert pids[0] == pids[1]
    assert int(pids[0]) == server.start().pid


def test_a_start_in_a_thread_does_not_end_with_the_thread(
    server: EmbeddedPostgres, data: Path
) -> None:
    from threading import Thread

    # The kernel's notice goes out when the thread ends, not the process (prctl(2)).
    thread = Thread(target=server.start)
    thread.start()
    thread.join()

    assert not ends_within(0.3, server)
    assert os.path.exists(data)
