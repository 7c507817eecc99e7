"""The demo as somebody starts it: one command, a real server, worker and web; then once more."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import stat
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent.parent
SMALL = 2_000


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Demo:
    """A demo in a process of its own, with nothing of the tests' environment."""

    def __init__(self, data: Path, *more: str) -> None:
        self.port = free_port()
        own = ("DATABASE_", "SECRET_", "DIGEST_", "BROKER_", "DJANGO_", "HTTPS_")
        clean = {name: text for name, text in os.environ.items() if not name.startswith(own)}
        command = [sys.executable, str(ROOT / "manage.py"), "demo", "--size", "small"]
        command += ["--data", str(data), "--port", str(self.port), *more]
        self.log = data.parent / "said.txt"
        with self.log.open("w") as stream:
            self.process = subprocess.Popen(
                command, env=clean, stdout=stream, stderr=subprocess.STDOUT, cwd=data.parent
            )

    def wait_ready(self, seconds: float) -> float:
        start = time.monotonic()
        while time.monotonic() - start < seconds:
            if "ready: http" in self.log.read_text():
                return time.monotonic() - start
            if self.process.poll() is not None:
                break
            time.sleep(0.2)
        pytest.fail(f"not ready:\n{self.log.read_text()[-2000:]}")

    def get(self, path: str, token: str | None = None) -> tuple[int, str]:
        headers = {"Authorization": f"Bearer {token}"} if token else {}
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", headers=headers)
        try:
            with urllib.request.urlopen(request, timeout=10) as answer:
                return answer.status, answer.read().decode()
        except urllib.error.HTTPError as error:
            with error:
                return error.code, error.read().decode()

    def stop(self) -> None:
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
            self.process.wait(timeout=30)


@pytest.fixture(scope="module")
def data(tmp_path_factory):
    return tmp_path_factory.mktemp("the demo") / "a folder"


@pytest.fixture(scope="module")
def demo(data):
    demo = Demo(data)
    try:
        demo.wait_ready(240)
        yield demo
    finally:
        demo.stop()


@pytest.fixture(scope="module")
def accounts(demo, data):
    return json.loads((data / "accounts.json").read_text())


def count_visits(demo, token) -> int:
    seen, path = 0, "/api/v1/visits/?page_size=1000"
    while path:
        body = json.loads(demo.get(path, token)[1])
        seen += len(body["results"])
        path = body["next"] and body["next"].split(str(demo.port), 1)[-1]
    return seen


def test_every_visit_of_every_clinic_is_there_for_the_lead(demo, accounts):
    lead = next(one for one in accounts if one["role"] == "lead")

    assert count_visits(demo, lead["token"]) == SMALL


def test_every_role_has_an_account_and_nobody_else_may_read_them(accounts, data):
    from registry.access.roles import ROLES

    file = data / "accounts.json"
    assert {one["role"] for one in accounts} == set(ROLES)
    assert len({one["clinic"] for one in accounts if one["clinic"]}) == 2
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert all(re.fullmatch(r"[a-z_]+-[a-z]+", one["username"]) for one in accounts)


def test_the_pages_say_that_the_data_are_invented(demo):
    status, page = demo.get("/sign-in/")

    assert status == 200
    assert "invented" in page


def test_it_says_each_step_and_where_it_is(demo):
    said = demo.log.read_text()

    for words in ("starting PostgreSQL", "loading the results", "visits", "worker", "ready: "):
        assert words in said


def test_the_worker_does_what_the_outbox_asks(demo, data):
    """A recomputation left to the workers is finished by the demo's own worker."""
    secrets = json.loads((data / "secrets.json").read_text())
    from registry.embedded.broker import EmbeddedBroker
    from registry.embedded.postgres import EmbeddedPostgres

    server = EmbeddedPostgres(data / "postgres")
    environment = (
        os.environ
        | secrets
        | {
            "DATABASE_URL": server.url("registry_app", "registry_demo"),
            "BROKER_URL": EmbeddedBroker(data / "broker").url(),
            "DJANGO_SETTINGS_MODULE": "registry.settings",
        }
    )
    manage = [sys.executable, str(ROOT / "manage.py")]
    subprocess.run(
        [*manage, "recompute", "--in-background"], env=environment, check=True, capture_output=True
    )

    code = (
        "from registry.models import RecomputeRun; run = RecomputeRun.objects.get();"
        " print(run.state, run.visits_seen, run.visits_changed)"
    )
    for _ in range(120):
        answer = subprocess.run(
            [*manage, "shell", "--no-imports", "-c", code],
            env=environment,
            check=True,
            capture_output=True,
            text=True,
        ).stdout.strip()
        if answer.startswith("finished"):
            break
        time.sleep(1)
    assert answer == f"finished {SMALL} 0"


def test_a_second_start_finds_everything_and_a_taken_port_is_said(demo, data):
    taken = subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), "demo", "--port", str(demo.port)],
        capture_output=True,
        text=True,
        check=False,
        cwd=data.parent,
    )
    assert taken.returncode != 0
    assert "is taken" in taken.stderr
    demo.stop()

    again = Demo(data)
    try:
        seconds = again.wait_ready(60)
        said = again.log.read_text()
    finally:
        again.stop()

    print(f"second start: {seconds:.1f} s")
    assert "loaded already" in said


def test_a_folder_that_is_no_demo_is_not_emptied(tmp_path):
    keep = tmp_path / "mine" / "letter.txt"
    keep.parent.mkdir()
    keep.write_text("keep me")

    refused = subprocess.run(
        [
            *(sys.executable, str(ROOT / "manage.py"), "demo", "--reset"),
            *("--data", str(keep.parent), "--port", str(free_port())),
        ],
        capture_output=True,
        text=True,
        check=False,
    )

    assert refused.returncode != 0
    assert keep.read_text() == "keep me"
