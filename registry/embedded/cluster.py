"""A new cluster: the folder in which PostgreSQL keeps its databases."""

from __future__ import annotations

import shutil
import signal
from pathlib import Path

from registry.embedded.launch import Account
from registry.embedded.server_program import run_server_program
from registry.embedded.unprivileged import hand_over

SUPERUSER = "postgres"


class ClusterNotCreated(Exception):
    """``initdb`` failed; the message names the log that holds its words."""


def create_cluster(
    cluster: Path, *, binaries: Path, account: Account | None, durable: bool, log: Path
) -> None:
    """Create an empty cluster in UTF-8 and the C locale, owned by ``account``.

    :raises ClusterNotCreated: when ``initdb`` fails.
    """
    # Made beside its place and then renamed: a start that was killed half way leaves no
    # half cluster that every later start would trip over.
    fresh = cluster.with_name(cluster.name + ".new")
    if fresh.exists():
        shutil.rmtree(fresh)
    fresh.mkdir(mode=0o700)
    hand_over(fresh, account)
    words = [str(binaries / "initdb"), "-D", str(fresh), "-U", SUPERUSER]
    # Whoever reaches the socket in its closed folder is the same person: no password.
    words += ["--auth=trust", "--encoding=UTF8", "--locale=C"]
    words += [] if durable else ["--no-sync"]
    process = run_server_program(words, account=account, log=log, death_signal=signal.SIGINT)
    if process.wait() != 0:
        raise ClusterNotCreated(f"initdb ended with {process.returncode}; see {log}")
    fresh.rename(cluster)
