"""Which account a server runs as when root starts it: PostgreSQL refuses to be root itself."""

from __future__ import annotations

import os
import pwd
import subprocess
import sys
from functools import cache
from pathlib import Path

from registry.embedded.launch import Account, launch_command


class NoPlainAccount(Exception):
    """The machine has no account but root, so the server cannot leave root's."""


def server_account(*paths: Path) -> Account | None:
    """Return the account to start a server with, ``None`` for the caller's own.

    As root a user namespace comes first: files keep their owner and no folder has to open.
    Where the kernel or a container refuses namespaces, a plain account takes over, allowed
    through the folders above ``paths`` if those are closed to it; their modes never change.

    :raises NoPlainAccount: when root finds no other account on the machine.
    """
    if os.geteuid() != 0:
        return None
    plain = plain_account()
    if namespace_allowed(plain.pw_uid, plain.pw_gid):
        return Account(plain.pw_uid, plain.pw_gid, namespace=True)
    closed = sys.platform == "linux" and any(closed_to_others(path) for path in paths)
    return Account(plain.pw_uid, plain.pw_gid, namespace=False, through_closed_folders=closed)


def plain_account() -> pwd.struct_passwd:
    """Return an account that is not root; it has to have a name, initdb looks it up."""
    try:
        return pwd.getpwnam("nobody")
    except KeyError:
        pass
    others = [entry for entry in pwd.getpwall() if entry.pw_uid != 0]
    if not others:
        raise NoPlainAccount
    return others[0]


@cache
def namespace_allowed(uid: int, gid: int) -> bool:
    """Tell by trying whether this process may make a user namespace."""
    if sys.platform != "linux":
        return False
    trial = launch_command([], account=Account(uid, gid, namespace=True))
    tried = subprocess.run(trial, capture_output=True, check=False)  # noqa: S603
    return tried.returncode == 0


def closed_to_others(path: Path) -> bool:
    """Tell whether some folder above ``path`` lets only its owner or group pass."""
    return any(not folder.stat().st_mode & 0o001 for folder in path.resolve().parents)


def hand_over(folder: Path, account: Account | None) -> None:
    """Make the server's account the owner of ``folder`` and of everything in it.

    Only root can have the wrong owner here: a folder first used with a plain account and now
    with a namespace, or the other way round.
    """
    if os.geteuid() != 0:
        return
    uid, gid = (account.uid, account.gid) if account and not account.namespace else (0, 0)
    if folder.stat().st_uid == uid:
        return
    for inside, folders, files in os.walk(folder):
        for name in (*folders, *files):
            os.chown(os.path.join(inside, name), uid, gid, follow_symlinks=False)
    # The folder itself comes last: an interrupted change is seen, and made again, next time.
    os.chown(folder, uid, gid)
