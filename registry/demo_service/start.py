"""One machine, one command: every process of the demo started in order, and stopped together."""

from __future__ import annotations

import hashlib
import json
import os
import secrets
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Final

import django

from registry.demo.network import scenario
from registry.embedded.broker import EmbeddedBroker
from registry.embedded.postgres import EmbeddedPostgres
from registry.embedded.process import Children
from registry.embedded.roles import prepare_roles

BASE_DIR: Final = Path(__file__).resolve().parent.parent.parent
APPLICATION_ROLE: Final = "registry_app"
READY_SECONDS: Final = 60

Tell = Callable[[str], None]


class DemoCannotStart(Exception):
    """The demo cannot start; the text says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoPlan:
    """What was asked for on the command line."""

    data: Path
    port: int
    size: str
    reset: bool


def run_demo(plan: DemoPlan, *, today: date, tell: Tell) -> None:
    """Bring everything up and wait until it is stopped (Ctrl-C) or a part of it ends.

    :raises DemoCannotStart: with the reason in words.
    """
    _check_port_free(plan.port)
    if plan.reset:
        _empty(plan.data)
    plan.data.mkdir(mode=0o700, parents=True, exist_ok=True)
    with _database(plan.data, tell) as (application, owner):
        broker = EmbeddedBroker(plan.data / "broker")
        try:
            tell("starting the broker")
            environment = _environment(plan, application, owner, broker.start())
            _prepare(plan, environment, today=today, tell=tell)
            _serve(plan, environment, tell)
        finally:
            broker.stop()


@contextmanager
def _database(data: Path, tell: Tell) -> Iterator[tuple[str, str]]:
    """URLs of the application and the owner: a server of the user's own, or an embedded one."""
    if "DATABASE_URL" in os.environ:
        if "DATABASE_OWNER_URL" not in os.environ:
            raise DemoCannotStart("With DATABASE_URL set, DATABASE_OWNER_URL is needed too.")
        yield os.environ["DATABASE_URL"], os.environ["DATABASE_OWNER_URL"]
        return
    tell("starting PostgreSQL")
    server = EmbeddedPostgres(data / "postgres")
    server.start()
    try:
        urls = prepare_roles(
            server.url("postgres", "postgres"),
            application_role=APPLICATION_ROLE,
            password=None,
            database="registry_demo",
        )
        yield urls.application, urls.owner
    finally:
        server.stop()


def _environment(plan: DemoPlan, application: str, owner: str, broker: str) -> dict[str, str]:
    return (
        os.environ
        | _secrets(plan.data / "secrets.json")
        | {
            "DJANGO_SETTINGS_MODULE": "registry.settings",
            "DATABASE_URL": application,
            "DATABASE_OWNER_URL": owner,
            "BROKER_URL": broker,
            "DEMO": "True",
            "HTTPS_ONLY": "False",
            "PYTHONUNBUFFERED": "1",
        }
    )


def _secrets(file: Path) -> dict[str, str]:
    """Keys made once by the operating system and kept, so that a second start knows the first."""
    if not file.exists():
        made = {
            "SECRET_KEY": secrets.token_urlsafe(48),
            "DIGEST_KEYS": f"1:{secrets.token_hex(24)}",
        }
        descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w") as stream:
            json.dump(made, stream)
    return dict(json.loads(file.read_text()))


def _prepare(plan: DemoPlan, environment: dict[str, str], *, today: date, tell: Tell) -> None:
    _migrate(plan, environment, tell)
    done = plan.data / f"loaded-{plan.size}.json"
    if done.exists():
        tell("the invented network is loaded already")
        return
    others = sorted(plan.data.glob("loaded-*.json"))
    if others:
        size = others[0].stem.removeprefix("loaded-")
        raise DemoCannotStart(
            f"This folder holds the demo at size {size}; add --reset to make it anew."
        )
    until = _until(plan.data / "until.txt", today)
    common = ["--until", until.isoformat(), "--size", plan.size]
    tell("setting up the invented network and its accounts")
    _manage(environment, "demo_fill", *common, "--accounts", str(plan.data / "accounts.json"))
    _load_side_by_side(environment, common, tell)
    tell("evaluating the network")
    _manage(environment, "analytics_rebuild")
    done.write_text(json.dumps({"until": until.isoformat()}))


def _migrate(plan: DemoPlan, environment: dict[str, str], tell: Tell) -> None:
    """Migrate, unless this folder's own server has seen just these migrations already.

    Looking takes a second start three of its ten seconds.
    """
    known = _migrations()
    done = plan.data / "migrated.json"
    own_server = "DATABASE_URL" not in os.environ
    if own_server and done.exists() and json.loads(done.read_text()) == known:
        return
    tell("preparing the tables")
    _manage(environment, "migrate", "--database", "owner", "--verbosity", "0")
    done.write_text(json.dumps(known))


def _migrations() -> list[str]:
    """What the tables depend on: our migrations, the rights granted after them, and Django's."""
    files = sorted(BASE_DIR.glob("*/migrations/0*.py"))
    rights = (BASE_DIR / "registry" / "access" / "tables.py").read_bytes()
    digest = hashlib.sha256(rights).hexdigest()
    return [*(file.name for file in files), digest, django.get_version()]


def _until(file: Path, today: date) -> date:
    """The end of the two years: the first day of this month, so that a month's demos are alike.

    Kept in a file, since a broken first start must go on with the same results.
    """
    if not file.exists():
        file.write_text((today - timedelta(days=today.day - 1)).isoformat())
    return date.fromisoformat(file.read_text())


def _load_side_by_side(environment: dict[str, str], common: list[str], tell: Tell) -> None:
    """Load the clinics in as many processes as there are cores, up to four."""
    codes = [clinic.code for clinic in scenario().clinics]
    share = min(os.cpu_count() or 1, 4)
    tell(f"loading the results of {len(codes)} clinics")
    with ThreadPoolExecutor(share) as lanes:
        parts = [codes[number::share] for number in range(share)]
        arguments = [[*common, "--clinics", ",".join(part)] for part in parts]
        for failure in lanes.map(lambda one: _lane(environment, one, tell), arguments):
            if failure is not None:
                raise DemoCannotStart(f"Loading the results failed: {failure}")


def _lane(environment: dict[str, str], arguments: list[str], tell: Tell) -> str | None:
    """Load some clinics in a process of its own; the last thing it said when it failed."""
    command = [sys.executable, str(BASE_DIR / "manage.py"), "demo_fill", *arguments]
    last = ""
    with subprocess.Popen(  # noqa: S603
        command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    ) as process:
        for line in process.stdout or ():
            last = line.rstrip() or last
            tell(f"  {last}")
    return last if process.returncode else None


def _manage(environment: dict[str, str], *arguments: str) -> None:
    command = [sys.executable, str(BASE_DIR / "manage.py"), *arguments]
    done = subprocess.run(  # noqa: S603
        command, env=environment, capture_output=True, text=True, check=False
    )
    if done.returncode != 0:
        last = (done.stderr or done.stdout).strip().splitlines()[-1:]
        raise DemoCannotStart(f"{arguments[0]} failed: {''.join(last)}")


def _serve(plan: DemoPlan, environment: dict[str, str], tell: Tell) -> None:
    with Children(plan.data / "logs") as children:
        tell("starting the worker")
        children.start(
            "worker",
            [
                *(sys.executable, "-m", "celery", "--workdir", str(BASE_DIR)),
                *("-A", "registry", "worker"),
                *("--beat", "--schedule", str(plan.data / "beat"), "--concurrency", "1"),
                *("--loglevel", "WARNING"),
            ],
            environment=environment,
        )
        tell("starting the web server")
        children.start(
            "web",
            [
                *(sys.executable, "-m", "gunicorn", "registry.wsgi", "--workers", "2"),
                *("--chdir", str(BASE_DIR)),
                *("--bind", f"127.0.0.1:{plan.port}", "--access-logfile", "/dev/null"),
            ],
            environment=environment | {"DATABASE_POOL": "True"},
        )
        _wait_ready(plan.port, children)
        tell(f"accounts are in {plan.data / 'accounts.json'}")
        tell("ALL DATA ARE INVENTED; enter no real result.")
        tell(f"ready: http://127.0.0.1:{plan.port}/  (stop with Ctrl-C)")
        ended = children.wait()
        if ended is not None:
            raise DemoCannotStart(f"The {ended} process ended by itself; see {plan.data / 'logs'}.")


def _wait_ready(port: int, children: Children) -> None:
    deadline = time.monotonic() + READY_SECONDS
    while time.monotonic() < deadline:
        if children.ended():
            break
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/readyz", timeout=2):
                return
        except (urllib.error.URLError, OSError):
            time.sleep(0.1)
    raise DemoCannotStart("The web server did not become ready; see the logs folder.")


def _check_port_free(port: int) -> None:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except OSError:
            raise DemoCannotStart(f"Port {port} is taken; choose another with --port.") from None


def _empty(data: Path) -> None:
    """Remove what a demo left, and nothing else: a mistyped folder must survive ``--reset``."""
    if not data.exists():
        return
    if any(data.iterdir()) and not (data / "secrets.json").exists():
        raise DemoCannotStart(f"{data} holds no demo; it is left alone.")
    EmbeddedPostgres(data / "postgres").stop()
    EmbeddedBroker(data / "broker").stop()
    shutil.rmtree(data)
