"""A private folder, short enough in its name, for the unix socket of a server."""

from __future__ import annotations

import os
import shutil
import stat
import tempfile
from pathlib import Path

# The address structure holds 108 bytes with the closing zero on Linux and 104 on macOS.
LONGEST_SOCKET_PATH = 103
PREFIX = "registry-"


def make_socket_folder(data: Path, socket_name: str) -> Path:
    """Return an empty folder of mode 0700 for ``socket_name``; the server must not be running.

    It is ``data/socket`` if that path is short enough for a socket. If not, it is a new
    folder below the system's temporary one and ``data/socket`` a link to it, by which the
    next start finds and removes it. A random name cannot be taken beforehand by another user.
    """
    remove_socket_folder(data)
    place = data.absolute() / "socket"
    if _fits(place, socket_name):
        place.mkdir(mode=0o700)
        return place
    folder = Path(tempfile.mkdtemp(prefix=PREFIX, dir=_short_temporary_folder(socket_name)))
    place.symlink_to(folder)
    return folder


def remove_socket_folder(data: Path) -> None:
    """Remove the folder that ``make_socket_folder`` made for ``data``, if there is one."""
    place = data / "socket"
    if place.is_symlink():
        target = place.readlink()
        # The name may belong to somebody else since the machine was restarted.
        if target.name.startswith(PREFIX) and _is_private(target, data):
            shutil.rmtree(target, ignore_errors=True)
        place.unlink()
    elif place.is_dir():
        shutil.rmtree(place)


def _fits(folder: Path, socket_name: str) -> bool:
    return len(os.fsencode(folder / socket_name)) <= LONGEST_SOCKET_PATH


def _short_temporary_folder(socket_name: str) -> str:
    usual = tempfile.gettempdir()
    return usual if _fits(Path(usual, PREFIX + 8 * "x"), socket_name) else "/tmp"  # noqa: S108


def _is_private(folder: Path, data: Path) -> bool:
    try:
        status = folder.lstat()
    except FileNotFoundError:
        return False
    owners = (os.geteuid(), data.stat().st_uid)
    closed = not stat.S_IMODE(status.st_mode) & 0o077
    return stat.S_ISDIR(status.st_mode) and closed and status.st_uid in owners
