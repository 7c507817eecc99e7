"""Child processes write to their logs and end with, or before, the process that started them."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from registry.embedded.process import Children

RunPython = Callable[..., "subprocess.Popen[str]"]
SLEEPER = [sys.executable, "-c", "import time; print('ready', flush=True); time.sleep(60)"]
STUBBORN = [
    sys.executable,
    "-c",
    "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN);"
    "print('ready', flush=True); time.sleep(60)",
]
# Says at its end when that was, so that the order of two ends can be read.
TIMER = [
    sys.executable,
    "-c",
    "import signal, sys, time\n"
    "def end(*_): time.sleep(0.1); print(time.monotonic(), flush=True); sys.exit()\n"
    "signal.signal(signal.SIGTERM, end); print('ready', flush=True); time.sleep(60)",
]
PARENT = """
import sys
from pathlib import Path
from registry.embedded.process import Children
with Children(Path(sys.argv[1])) as children:
    for name in ("worker", "web"):
        pid = children.start(name, sys.argv[2:])
        print(pid, flush=True)
    print(children.wait(), flush=True)
"""


def wait_for(path: Path, text: str) -> None:
    until = time.monotonic() + 10
    while not (path.exists() and text in path.read_text()):
        assert time.monotonic() < until, f"{path} never said {text}"
        time.sleep(0.01)


def runs(pid: int) -> bool:
    """Whether the process is alive; one that is dead and unreaped has no command line."""
    try:
        return bool(Path(f"/proc/{pid}/cmdline").read_bytes())
    except OSError:
        return False


def test_what_a_child_says_is_in_its_log(tmp_path: Path) -> None:
    code = "import os, sys; print(os.environ['GIVEN']); print('bad', file=sys.stderr)"
    with Children(tmp_path / "logs") as children:
        children.start("web", [sys.executable, "-c", code], environment={"GIVEN": "value"})
        wait_for(tmp_path / "logs" / "web.log", "bad")

    assert (tmp_path / "logs" / "web.log").read_text().splitlines() == ["value", "bad"]


def test_leaving_the_block_stops_the_children(tmp_path: Path) -> None:
    with Children(tmp_path) as children:
        pid = children.start("web", SLEEPER)
        wait_for(tmp_path / "web.log", "ready")
        assert runs(pid)

    assert not runs(pid)


def test_the_last_started_is_stopped_first(tmp_path: Path) -> None:
    with Children(tmp_path) as children:
        for name in ("worker", "web"):
            children.start(name, TIMER)
            wait_for(tmp_path / f"{name}.log", "ready")

    ends = {
        name: float((tmp_path / f"{name}.log").read_text().split()[-1])
        for name in ("worker", "web")
    }
    assert ends["web"] < ends["worker"]


def test_a_child_that_will_not_stop_is_killed_after_the_grace(tmp_path: Path) -> None:
    children = Children(tmp_path, grace_s=0.1)
    pid = children.start("web", STUBBORN)
    wait_for(tmp_path / "web.log", "ready")

    children.stop()

    assert not runs(pid)


def test_a_child_that_ends_by_itself_ends_the_wait(tmp_path: Path) -> None:
    children = Children(tmp_path)
    other = children.start("worker", SLEEPER)
    children.start("web", [sys.executable, "-c", "raise SystemExit(3)"])

    assert children.wait() == "web"
    assert not runs(other)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_signal_stops_the_children_and_then_the_parent(
    tmp_path: Path, run_python: RunPython, number: signal.Signals
) -> None:
    parent = run_python(PARENT, tmp_path, *SLEEPER)
    assert parent.stdout is not None
    pids = [int(parent.stdout.readline()) for _ in range(2)]
    wait_for(tmp_path / "web.log", "ready")
    time.sleep(0.05)  # the parent says nothing when it begins to wait

    parent.send_signal(number)

    assert parent.communicate(timeout=10)[0] == "None\n"
    assert parent.returncode == 0
    assert not any(runs(pid) for pid in pids)


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells a child of such a death")
def test_children_end_when_their_parent_is_killed(tmp_path: Path, run_python: RunPython) -> None:
    parent = run_python(PARENT, tmp_path, *SLEEPER)
    assert parent.stdout is not None
    pids = [int(parent.stdout.readline()) for _ in range(2)]
    for name in ("worker", "web"):
        wait_for(tmp_path / f"{name}.log", "ready")

    parent.send_signal(signal.SIGKILL)

    until = time.monotonic() + 5
    while any(runs(pid) for pid in pids) and time.monotonic() < until:
        time.sleep(0.01)
    assert not any(runs(pid) for pid in pids)


def test_the_old_meaning_of_signals_comes_back(tmp_path: Path) -> None:
    before = [signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)]
    children = Children(tmp_path)
    children.start("web", [sys.executable, "-c", ""])

    children.wait()

    assert [signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)] == before


def test_a_child_is_in_a_session_of_its_own(tmp_path: Path) -> None:
    with Children(tmp_path) as children:
        pid = children.start("web", SLEEPER)

        assert os.getsid(pid) == pid
