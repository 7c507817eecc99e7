"""Start a program that ends with its parent and, where asked, without the rights of root.

The launcher is a program of its own: it prepares its own process and then becomes the command,
so the process id stays. Doing this in the child of a fork instead would run Python code after
forking a process that may have threads, where any lock held elsewhere blocks it for ever.
It is started by path and in isolated mode, and so imports the standard library only.
"""

from __future__ import annotations

import argparse
import ctypes
import os
import signal
import sys
import threading
from collections.abc import Sequence
from dataclasses import dataclass

# From linux/prctl.h, linux/sched.h and linux/capability.h; part of the kernel's stable interface.
PR_SET_PDEATHSIG = 1
PR_SET_KEEPCAPS = 8
PR_CAP_AMBIENT = 47
PR_CAP_AMBIENT_RAISE = 2
CLONE_NEWUSER = 0x10000000
CAPABILITY_VERSION = 0x20080522
CAP_DAC_OVERRIDE = 1


@dataclass(frozen=True, slots=True)
class Account:
    """The account a program started by root runs as.

    With ``namespace`` the ids hold inside a user namespace only: outside, files still belong to
    root. ``through_closed_folders`` lets a real account pass folders that are closed to it.
    """

    uid: int
    gid: int
    namespace: bool
    through_closed_folders: bool = False


def launch_command(
    command: Sequence[str],
    *,
    account: Account | None = None,
    death_signal: signal.Signals | None = None,
) -> list[str]:
    """Return the command line that runs ``command`` through the launcher.

    ``death_signal`` is sent to the program when this process ends, however it ends (Linux).
    Asked for outside the main thread it is left out: the kernel sends it at the end of the
    *thread* that started the program, so a short-lived thread would take its server along.
    """
    options: list[str] = []
    if account is not None:
        options += ["--namespace"] if account.namespace else []
        options += ["--through-closed-folders"] if account.through_closed_folders else []
        options += ["--account", str(account.uid), str(account.gid)]
    in_main_thread = threading.current_thread() is threading.main_thread()
    if death_signal is not None and sys.platform == "linux" and in_main_thread:
        options += ["--parent", str(os.getpid()), "--death-signal", str(int(death_signal))]
    return [sys.executable, "-I", "-S", __file__, *options, "--", *command]


def main(arguments: Sequence[str]) -> None:
    """Prepare this process as told, then become the command; with no command, just prepare."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--namespace", action="store_true")
    parser.add_argument("--through-closed-folders", action="store_true")
    parser.add_argument("--account", nargs=2, type=int)
    parser.add_argument("--parent", type=int)
    parser.add_argument("--death-signal", type=int)
    parser.add_argument("command", nargs="*")
    options = parser.parse_args(arguments)
    if options.account and options.namespace:
        enter_namespace(*options.account)
    elif options.account:
        become(*options.account, through_closed_folders=options.through_closed_folders)
    # Last, because the kernel forgets the death signal when a process changes its account.
    if options.parent:
        end_with(options.parent, options.death_signal)
    if options.command:
        os.execvp(options.command[0], options.command)  # noqa: S606 - a list, no shell


def enter_namespace(uid: int, gid: int) -> None:
    """Appear as ``uid`` and ``gid`` while files and parent folders stay those of the caller."""
    outer_uid, outer_gid = os.geteuid(), os.getegid()
    _call("unshare", CLONE_NEWUSER)
    # The kernel accepts a group map only after setgroups is denied (user_namespaces(7)).
    _write("/proc/self/setgroups", "deny")
    _write("/proc/self/uid_map", f"{uid} {outer_uid} 1")
    _write("/proc/self/gid_map", f"{gid} {outer_gid} 1")


def become(uid: int, gid: int, *, through_closed_folders: bool) -> None:
    """Change to a real account, keeping of root's rights at most the one to pass folders."""
    if through_closed_folders:
        _call("prctl", PR_SET_KEEPCAPS, 1, 0, 0, 0)
    os.setgroups([])
    os.setgid(gid)
    os.setuid(uid)
    if through_closed_folders:
        _keep_only(CAP_DAC_OVERRIDE)


def end_with(parent: int, death_signal: int) -> None:
    """Have the kernel send ``death_signal`` to this process when its parent ends."""
    _call("prctl", PR_SET_PDEATHSIG, death_signal, 0, 0, 0)
    # The parent may have gone before the call; then no signal will ever come.
    if os.getppid() != parent:
        sys.exit("the parent process ended before its program started")


def _keep_only(capability: int) -> None:
    """Hold one capability, also after exec; the account's own ones are dropped."""
    bit = 1 << capability
    header = (ctypes.c_uint32 * 2)(CAPABILITY_VERSION, 0)
    sets = (ctypes.c_uint32 * 6)(bit, bit, bit, 0, 0, 0)  # effective, permitted, inheritable
    _call("capset", header, sets)
    _call("prctl", PR_CAP_AMBIENT, PR_CAP_AMBIENT_RAISE, capability, 0, 0)


def _call(name: str, *arguments: object) -> None:
    libc = ctypes.CDLL(None, use_errno=True)
    words = [ctypes.c_ulong(word) if isinstance(word, int) else word for word in arguments]
    if getattr(libc, name)(*words) != 0:
        error = ctypes.get_errno()
        raise OSError(error, f"{name}: {os.strerror(error)}")


def _write(path: str, text: str) -> None:
    with open(path, "w") as file:
        file.write(text)


if __name__ == "__main__":
    main(sys.argv[1:])
