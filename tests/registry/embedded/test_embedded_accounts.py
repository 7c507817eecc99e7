"""PostgreSQL refuses root; these are the ways round it, each really gone."""

from __future__ import annotations

import os
import pwd
import shutil
import stat
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import psycopg
import pytest

from registry.embedded import unprivileged
from registry.embedded.binaries import find_postgres
from registry.embedded.postgres import EmbeddedPostgres

ROOT = Path(__file__).parents[3]
NOBODY = pwd.getpwnam("nobody")
Ask = Callable[[EmbeddedPostgres, str], str]
MakeData = Callable[[Path], Path]

needs_root = pytest.mark.skipif(os.geteuid() != 0, reason="only root has to leave its account")


# Who may not pass a folder may read data in it by a right kept from root, but run no program.
needs_open_programs = pytest.mark.skipif(
    unprivileged.closed_to_others(find_postgres() / "postgres"),
    reason="PostgreSQL's programs lie below a folder that is closed to plain accounts",
)


def owner_of_process(pid: int) -> int:
    """The account the kernel itself knows, whatever a namespace shows inside."""
    return Path(f"/proc/{pid}").stat().st_uid


@pytest.fixture
def no_namespaces(monkeypatch: pytest.MonkeyPatch) -> None:
    """As in a container that forbids user namespaces."""
    monkeypatch.setattr(unprivileged, "namespace_allowed", lambda uid, gid: False)


@needs_root
def test_in_a_namespace_the_files_stay_those_of_root(server: EmbeddedPostgres) -> None:
    if not unprivileged.namespace_allowed(NOBODY.pw_uid, NOBODY.pw_gid):
        pytest.skip("this machine forbids user namespaces")

    address = server.start()

    assert owner_of_process(address.pid) == 0
    assert (server.cluster / "PG_VERSION").stat().st_uid == 0
    assert (server.cluster / "postmaster.pid").stat().st_uid == 0


@needs_root
@needs_open_programs
@pytest.mark.usefixtures("no_namespaces")
def test_without_namespaces_a_plain_account_runs_the_server(
    server: EmbeddedPostgres, ask: Ask
) -> None:
    address = server.start()

    assert owner_of_process(address.pid) == NOBODY.pw_uid
    assert server.cluster.stat().st_uid == NOBODY.pw_uid
    assert ask(server, "SELECT 1") == "1"


@needs_root
@needs_open_programs
@pytest.mark.usefixtures("no_namespaces")
def test_a_plain_account_makes_a_new_cluster_below_a_closed_folder(
    tmp_path: Path, ask: Ask
) -> None:
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o700)

    with EmbeddedPostgres(closed / "data", durable=False) as server:
        answer = ask(server, "SELECT 1")

    assert answer == "1"
    assert stat.S_IMODE(closed.stat().st_mode) == 0o700
    assert closed.stat().st_uid == 0


@needs_root
@needs_open_programs
@pytest.mark.skipif(sys.platform != "linux", reason="capabilities are a thing of Linux")
@pytest.mark.usefixtures("no_namespaces")
def test_a_plain_account_keeps_one_right_of_root_and_no_other(
    server: EmbeddedPostgres, tmp_path: Path
) -> None:
    tmp_path.chmod(0o700)

    status = Path(f"/proc/{server.start().pid}/status").read_text()

    # CAP_DAC_OVERRIDE is number 1 (linux/capability.h), hence the mask 2.
    assert "CapEff:\t0000000000000002\n" in status
    assert "Groups:\t \n" in status


@needs_root
@needs_open_programs
def test_a_cluster_may_change_between_both_ways(
    server: EmbeddedPostgres, ask: Ask, monkeypatch: pytest.MonkeyPatch
) -> None:
    server.start()
    ask(server, "CREATE TABLE kept AS SELECT 7 AS number")
    server.stop()

    with monkeypatch.context() as patched:
        patched.setattr(unprivileged, "namespace_allowed", lambda uid, gid: False)
        server.start()
        as_nobody = ask(server, "SELECT number FROM kept")
        server.stop()
    server.start()

    assert as_nobody == "7"
    assert ask(server, "SELECT number FROM kept") == "7"


PLAIN = """
import os, sys
sys.path[:0] = sys.argv[2:]
from pathlib import Path
import psycopg
from registry.embedded.postgres import EmbeddedPostgres
data = Path(sys.argv[1]) / "data"
with EmbeddedPostgres(data, durable=False) as server:
    with psycopg.connect(server.url("postgres", "postgres")) as connection:
        print(os.geteuid(), connection.execute("SELECT 40 + 2").fetchone()[0])
"""


@pytest.fixture
def folder_of_nobody() -> Iterator[Path]:
    """A folder of the account nobody; pytest's own ones are closed to others."""
    folder = Path(tempfile.mkdtemp())
    os.chown(folder, NOBODY.pw_uid, NOBODY.pw_gid)
    yield folder
    shutil.rmtree(folder)


def python_for_nobody(libraries: str) -> str | None:
    """An interpreter that the account may run, if not this one then the system's own."""
    version = f"python3.{sys.version_info.minor}"
    for program in (sys.executable, f"/usr/bin/{version}", f"/usr/local/bin/{version}"):
        code = f"import sys; sys.path.insert(0, {libraries!r}); import psycopg"
        try:
            tried = subprocess.run(
                [program, "-c", code],
                user=NOBODY.pw_uid,
                group=NOBODY.pw_gid,
                extra_groups=[],
                capture_output=True,
                check=False,
            )
        except OSError:
            continue
        if tried.returncode == 0:
            return program
    return None


@needs_root
def test_a_plain_user_starts_the_server(folder_of_nobody: Path) -> None:
    libraries = str(Path(psycopg.__file__).parents[1])
    program = python_for_nobody(libraries)
    if program is None:
        pytest.skip("the account nobody may run no Python of this version")

    done = subprocess.run(
        [program, "-c", PLAIN, str(folder_of_nobody), str(ROOT), libraries],
        user=NOBODY.pw_uid,
        group=NOBODY.pw_gid,
        extra_groups=[],
        cwd="/",
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.stdout.split() == [str(NOBODY.pw_uid), "42"], done.stderr
