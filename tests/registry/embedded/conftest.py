"""Clusters to start servers on; each test has its own copy, so that it may break it."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import psycopg
import pytest

from registry.embedded.postgres import EmbeddedPostgres

ROOT = Path(__file__).parents[3]


@pytest.fixture(scope="session")
def new_cluster(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A cluster that was started once and stopped; only to be copied."""
    data = tmp_path_factory.mktemp("template") / "data"
    server = EmbeddedPostgres(data, durable=False)
    server.start()
    server.stop()
    return data / "cluster"


@pytest.fixture
def make_data(new_cluster: Path) -> Callable[[Path], Path]:
    """Make a data folder that already holds a cluster: a copy is quicker than ``initdb``."""

    def make(data: Path) -> Path:
        data.mkdir(parents=True)
        shutil.copytree(new_cluster, data / "cluster")
        return data

    return make


@pytest.fixture
def data(make_data: Callable[[Path], Path], tmp_path: Path) -> Path:
    return make_data(tmp_path / "data")


@pytest.fixture
def server(data: Path) -> Iterator[EmbeddedPostgres]:
    """A server object on ``data``, not started; whatever runs there is stopped afterwards."""
    server = EmbeddedPostgres(data, durable=False, timeout_s=10)
    yield server
    server.stop()


@pytest.fixture
def ask() -> Callable[..., str]:
    """Ask a server one question as its superuser."""

    def ask(server: EmbeddedPostgres, query: str) -> str:
        with psycopg.connect(server.url("postgres", "postgres"), autocommit=True) as connection:
            cursor = connection.execute(query.encode())
            row = cursor.fetchone() if cursor.description else None
        return str(row[0]) if row else ""

    return ask


@pytest.fixture
def run_python() -> Iterator[Callable[..., subprocess.Popen[str]]]:
    """Start another Python process on a text of code; killed at the end if still there."""
    processes: list[subprocess.Popen[str]] = []

    def run(code: str, *arguments: object) -> subprocess.Popen[str]:
        process = subprocess.Popen(
            [sys.executable, "-c", code, *map(str, arguments)],
            cwd=ROOT,
            text=True,
            stdout=subprocess.PIPE,
        )
        processes.append(process)
        return process

    yield run
    for process in processes:
        process.kill()
        process.communicate()
