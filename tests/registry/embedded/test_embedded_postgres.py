"""The embedded PostgreSQL is started, found again, recovered and stopped."""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from threading import Timer

import psycopg
import pytest

from registry.embedded import socket_folder
from registry.embedded.binaries import ProgramNotFound
from registry.embedded.postgres import EmbeddedPostgres, ServerDidNotStart, ServerNotRunning

Ask = Callable[[EmbeddedPostgres, str], str]
MakeData = Callable[[Path], Path]


def test_a_new_server_is_utf8_in_the_c_locale(tmp_path: Path, ask: Ask) -> None:
    with EmbeddedPostgres(tmp_path / "new", durable=False) as server:
        found = ask(
            server,
            "SELECT concat_ws(' ', pg_encoding_to_char(encoding), datcollate,"
            " datctype) FROM pg_database WHERE datname = 'template0'",
        )

    assert found == "UTF8 C C"


def test_the_server_listens_on_no_tcp_port(server: EmbeddedPostgres, ask: Ask) -> None:
    server.start()

    assert ask(server, "SHOW listen_addresses") == ""
    # A backend that was reached through a unix socket has no address (documentation, 9.27).
    assert ask(server, "SELECT coalesce(host(inet_server_addr()), 'socket')") == "socket"


def test_nobody_else_may_reach_the_socket_or_read_the_log(server: EmbeddedPostgres) -> None:
    address = server.start()

    assert stat.S_IMODE(Path(address.socket_folder).stat().st_mode) == 0o700
    assert stat.S_IMODE(server.log.stat().st_mode) == 0o600


def test_folders_above_keep_their_modes(make_data: MakeData, tmp_path: Path) -> None:
    closed = tmp_path / "closed"
    data = make_data(closed / "data")
    closed.chmod(0o700)

    with EmbeddedPostgres(data, durable=False) as server:
        running = server.running()

    assert running
    assert stat.S_IMODE(closed.stat().st_mode) == 0o700


@pytest.mark.parametrize(("durable", "fsync"), [(True, "on"), (False, "off")])
def test_only_a_durable_server_waits_for_the_disk(
    data: Path, ask: Ask, durable: bool, fsync: str
) -> None:
    with EmbeddedPostgres(data, durable=durable) as server:
        assert ask(server, "SHOW fsync") == fsync
        assert ask(server, "SHOW synchronous_commit") == fsync
        assert ask(server, "SHOW full_page_writes") == fsync


def test_a_second_start_finds_the_first_server(server: EmbeddedPostgres, data: Path) -> None:
    first = server.start()

    assert server.start() == first
    assert EmbeddedPostgres(data).start() == first


def test_what_was_written_is_there_after_a_restart(server: EmbeddedPostgres, ask: Ask) -> None:
    server.start()
    ask(server, "CREATE TABLE kept AS SELECT 7 AS number")

    server.stop()
    server.start()

    assert ask(server, "SELECT number FROM kept") == "7"


def test_a_stopped_server_leaves_no_process_no_socket_and_no_address(
    server: EmbeddedPostgres, data: Path
) -> None:
    address = server.start()

    server.stop()

    assert not server.running()
    assert not Path(address.socket_folder).exists()
    assert not Path(f"/proc/{address.pid}").exists()
    with pytest.raises(ServerNotRunning):
        server.url("postgres", "postgres")


def test_stopping_twice_or_before_the_first_start_does_nothing(tmp_path: Path) -> None:
    server = EmbeddedPostgres(tmp_path / "never")

    server.stop()
    server.stop()

    assert not (tmp_path / "never").exists()


@pytest.mark.parametrize("name", ["two words", 'a "quoted", listed name', "Ünïcode % name"])
def test_any_folder_name_will_do(make_data: MakeData, tmp_path: Path, ask: Ask, name: str) -> None:
    with EmbeddedPostgres(make_data(tmp_path / name), durable=False) as server:
        assert ask(server, "SELECT 1") == "1"


def test_a_path_too_long_for_a_socket_gets_a_short_private_folder(
    make_data: MakeData, tmp_path: Path, ask: Ask
) -> None:
    data = make_data(tmp_path / ("d" * (135 - len(str(tmp_path)))))
    server = EmbeddedPostgres(data, durable=False)

    folder = Path(server.start().socket_folder)
    answer = ask(server, "SELECT 1")
    mode = stat.S_IMODE(folder.stat().st_mode)
    server.stop()

    assert len(str(data)) == 136
    assert answer == "1"
    assert mode == 0o700
    # unix(7): sun_path has 108 bytes, the closing zero among them.
    assert len(str(folder / ".s.PGSQL.5432")) <= 107
    assert not folder.exists()


def test_a_long_path_is_recovered_after_a_crash_without_leaving_folders(
    make_data: MakeData, tmp_path: Path, ask: Ask
) -> None:
    with EmbeddedPostgres(make_data(tmp_path / ("d" * 120)), durable=False) as server:
        first = server.start()
        os.kill(first.pid, signal.SIGKILL)

        second = server.start()

        assert ask(server, "SELECT 1") == "1"
        assert second.socket_folder != first.socket_folder
        assert not Path(first.socket_folder).exists()


def test_a_temporary_folder_that_is_not_ours_is_left_alone(tmp_path: Path) -> None:
    strange = tmp_path / "registry-strange"
    strange.mkdir(mode=0o755)
    data = tmp_path / "data"
    data.mkdir()
    (data / "socket").symlink_to(strange)

    folder = socket_folder.make_socket_folder(data, "s")

    assert strange.is_dir()
    assert folder == data / "socket"
    assert not folder.is_symlink()


def test_a_killed_server_is_started_again_at_once_with_all_that_was_committed(
    data: Path, ask: Ask
) -> None:
    server = EmbeddedPostgres(data, durable=True)
    first = server.start()
    ask(server, "CREATE TABLE kept AS SELECT 7 AS number")

    os.kill(first.pid, signal.SIGKILL)
    second = server.start()

    assert second.pid != first.pid
    assert ask(server, "SELECT number FROM kept") == "7"
    server.stop()


def test_a_start_waits_for_the_last_process_of_a_killed_server(
    server: EmbeddedPostgres, ask: Ask
) -> None:
    first = server.start()
    with closing(psycopg.connect(server.url("postgres", "postgres"))) as client:
        # Stopped, the client's process cannot notice the death, and holds the shared memory.
        os.kill(client.info.backend_pid, signal.SIGSTOP)
        os.kill(first.pid, signal.SIGKILL)
        later = Timer(0.4, os.kill, (client.info.backend_pid, signal.SIGCONT))
        later.start()

        server.start()
        later.join()

    assert "pre-existing shared memory block" in server.log.read_text()
    assert ask(server, "SELECT 1") == "1"


def test_a_pid_file_that_names_a_stranger_is_not_believed(
    server: EmbeddedPostgres, ask: Ask
) -> None:
    stranger = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE)
    os.kill(server.start().pid, signal.SIGKILL)
    path = server.cluster / "postmaster.pid"
    _, rest = path.read_text().split("\n", 1)
    path.write_text(f"{stranger.pid}\n{rest}")

    started = server.start()

    assert ask(server, "SELECT 1") == "1"
    assert started.pid != stranger.pid
    assert stranger.poll() is None
    stranger.communicate()


@pytest.mark.parametrize("text", ["", "no number\n", "-1\n"])
def test_a_broken_pid_file_does_not_stop_the_start(
    server: EmbeddedPostgres, ask: Ask, text: str
) -> None:
    (server.cluster / "postmaster.pid").write_text(text)

    server.start()

    assert ask(server, "SELECT 1") == "1"


def test_a_server_that_cannot_start_says_why(server: EmbeddedPostgres) -> None:
    (server.cluster / "global" / "pg_control").unlink()

    with pytest.raises(ServerDidNotStart, match="pg_control"):
        server.start()

    assert not server.running()


def test_files_of_another_major_version_are_refused(server: EmbeddedPostgres) -> None:
    (server.cluster / "PG_VERSION").write_text("9\n")

    with pytest.raises(ProgramNotFound, match="PostgreSQL 9"):
        server.start()


def test_a_half_made_cluster_is_made_again(tmp_path: Path, ask: Ask) -> None:
    half = tmp_path / "data" / "cluster.new"
    half.mkdir(parents=True)
    (half / "PG_VERSION").write_text("18\n")

    with EmbeddedPostgres(tmp_path / "data", durable=False) as server:
        assert ask(server, "SELECT 1") == "1"
    assert not half.exists()


def test_settings_meant_for_another_server_are_not_inherited(
    server: EmbeddedPostgres, ask: Ask, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PGDATA", "/nowhere")
    monkeypatch.setenv("PGPORT", "1")

    assert server.start().port == 5432
