"""The main process of PostgreSQL: how it is started, and how a running one is recognised.

The lines of ``postmaster.pid`` are listed in PostgreSQL's ``src/include/utils/pidfile.h``.
"""

from __future__ import annotations

import os
import subprocess
from dataclasses import dataclass
from pathlib import Path

FILE_NAME = "postmaster.pid"
SETTINGS = {
    "listen_addresses": "",
    "unix_socket_permissions": "0700",
    "max_connections": "100",
    "shared_buffers": "128MB",
    "timezone": "UTC",
    "log_timezone": "UTC",
    "log_checkpoints": "off",
}
# For tests: a crash loses the last second, and a lost machine perhaps everything.
NOT_DURABLE = {"fsync": "off", "synchronous_commit": "off", "full_page_writes": "off"}


@dataclass(frozen=True, slots=True)
class PidFile:
    """The first eight lines of the file; what is not written yet is empty or 0."""

    pid: int
    port: int
    socket_folder: str
    status: str

    @property
    def ready(self) -> bool:
        return self.status == "ready"


def read(cluster: Path) -> PidFile | None:
    """Return what the file says, or ``None`` where it is missing or has no process id."""
    try:
        lines = (cluster / FILE_NAME).read_text(errors="replace").splitlines()
    except FileNotFoundError:
        return None
    lines += [""] * (8 - len(lines))
    pid = _number(lines[0])
    if pid <= 0:
        return None
    return PidFile(pid, _number(lines[3]), lines[4], lines[7].strip())


def find(cluster: Path) -> PidFile | None:
    """Return the file if the process it names is really the server of this cluster.

    After a crash or a restart of the machine the same number may belong to any program, and
    a killed server that nobody has waited for still answers to its number: so the command
    line is compared, which a stranger has not and a dead process has no longer.
    """
    file = read(cluster)
    if file is None or not _runs_on(file.pid, cluster):
        return None
    return file


def forget_dead_server(cluster: Path) -> None:
    """Make a stale pid file harmless; only to be called when ``find`` returned ``None``.

    PostgreSQL refuses to start while any process bears the number in the file, except its own
    parent, so that number becomes ours. The file is not deleted: its last lines let the new
    server see whether a process of the old one still holds the shared memory and could write
    to the same tables.
    """
    path = cluster / FILE_NAME
    if read(cluster) is None:
        path.unlink(missing_ok=True)  # without a number it is of no use and stops the start
        return
    _, _, rest = path.read_text(errors="replace").partition("\n")
    path.write_text(f"{os.getpid()}\n{rest}")


def command(
    program: Path, cluster: Path, *, socket_folder: Path, port: int, durable: bool
) -> list[str]:
    """Return the command line of a server; ``find`` knows it again by its beginning."""
    settings = {**SETTINGS, **({} if durable else NOT_DURABLE), "port": str(port)}
    # The setting is a list of names; in quotes a comma or a space is part of the name.
    settings["unix_socket_directories"] = '"{}"'.format(str(socket_folder).replace('"', '""'))
    words = [str(program), "-D", str(cluster)]
    for name, value in settings.items():
        words += ["-c", f"{name}={value}"]
    return words


def _runs_on(pid: int, cluster: Path) -> bool:
    return f"postgres -D {cluster} -c " in _command_line(pid)


def _command_line(pid: int) -> str:
    """Return the words of a process, or nothing where it is gone or dead but unreaped."""
    if os.path.exists("/proc/self/cmdline"):
        try:
            return os.fsdecode(Path(f"/proc/{pid}/cmdline").read_bytes().replace(b"\0", b" "))
        except OSError:
            return ""
    words = ["ps", "-ww", "-o", "command=", "-p", str(pid)]
    shown = subprocess.run(words, capture_output=True, text=True, check=False)  # noqa: S603
    return shown.stdout


def _number(line: str) -> int:
    try:
        return int(line)
    except ValueError:
        return 0
