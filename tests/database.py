"""The tests' own database: a real PostgreSQL, and the application's own powerless role.

Loaded as a plugin before the settings are. Without ``DATABASE_URL`` an embedded server is
started; with it (and ``DATABASE_OWNER_URL``) the tests run on that server. Each worker gets
a copy of one migrated template, so that migrations run once however many workers there are.
"""

from __future__ import annotations

import os
import secrets
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

SERVER_KEY = pytest.StashKey[Any]()


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "benchmark: measures, prints, asserts only a ratio")
    config.addinivalue_line("markers", "browser: needs Chromium")


@pytest.hookimpl(tryfirst=True)
def pytest_load_initial_conftests(early_config: pytest.Config) -> None:
    os.environ.setdefault("SECRET_KEY", secrets.token_urlsafe(48))
    os.environ.setdefault("DIGEST_KEYS", f"1:{secrets.token_hex(16)},2:{secrets.token_hex(16)}")
    os.environ.setdefault("HTTPS_ONLY", "False")
    if "DATABASE_URL" not in os.environ:
        early_config.stash[SERVER_KEY] = _start_embedded()


def _start_embedded() -> Any:
    from registry.embedded.postgres import EmbeddedPostgres
    from registry.embedded.roles import prepare_roles

    folder = tempfile.TemporaryDirectory(prefix="registry-test-", ignore_cleanup_errors=True)
    server = EmbeddedPostgres(Path(folder.name) / "pg", durable=False)
    server.start()
    urls = prepare_roles(
        server.url("postgres", "postgres"),
        application_role="registry_app",
        password=None,
        database="registry",
    )
    os.environ["DATABASE_URL"] = urls.application
    os.environ["DATABASE_OWNER_URL"] = urls.owner
    return server, folder


def pytest_unconfigure(config: pytest.Config) -> None:
    started = config.stash.get(SERVER_KEY, None)
    if started is not None:
        server, folder = started
        server.stop()
        folder.cleanup()


@pytest.fixture(scope="session")
def django_db_setup(
    django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory, worker_id: str
) -> Iterator[None]:
    """Point both database aliases at a fresh copy of the migrated template."""
    from django.conf import settings

    run = os.environ.get("PYTEST_XDIST_TESTRUNUID", f"solo{os.getpid()}")[-12:]
    template, name = f"template_{run}", f"test_{run}_{worker_id}"
    with django_db_blocker.unblock():
        _make_template_once(template, tmp_path_factory.getbasetemp().parent)
        _owner_runs(f'CREATE DATABASE "{name}" TEMPLATE "{template}"', lock=True)
        _use_database(settings, name)
    yield
    with django_db_blocker.unblock():
        _use_database(settings, "postgres")
        _owner_runs(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')
        if worker_id in ("master", "gw0"):
            # The last to leave would be better; an xdist controller has no fixtures.
            _owner_runs(f'DROP DATABASE IF EXISTS "{template}" WITH (FORCE)')


def _use_database(settings: Any, name: str) -> None:
    from django.db import connections

    for alias in ("default", "owner"):
        connections[alias].close()
        connections[alias].settings_dict["NAME"] = name
        settings.DATABASES[alias]["NAME"] = name


def _make_template_once(template: str, shared: Path) -> None:
    """Migrate into the template, in one worker; the others wait for its lock."""
    import fcntl

    from django.conf import settings
    from django.core.management import call_command

    made = shared / f"{template}.made"
    with (shared / f"{template}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if made.exists():
            return
        _owner_runs(f'CREATE DATABASE "{template}" TEMPLATE template0 ENCODING UTF8')
        _use_database(settings, template)
        call_command("migrate", database="owner", verbosity=0)
        _use_database(settings, "postgres")
        made.touch()


def owner_connection() -> Any:
    """A session of the owner in this worker's database, for what the application may not do."""
    import psycopg
    from django.db import connections

    name = connections["default"].settings_dict["NAME"]
    return psycopg.connect(os.environ["DATABASE_OWNER_URL"], dbname=name, autocommit=True)


def _owner_runs(statement: str, *, lock: bool = False) -> None:
    """Run one statement as the owner, outside any test database."""
    import psycopg

    with psycopg.connect(
        os.environ["DATABASE_OWNER_URL"], dbname="postgres", autocommit=True
    ) as connection:
        if lock:
            # Two copies of one template at the same moment: the second is refused.
            connection.execute("SELECT pg_advisory_lock(7001)")
        connection.execute(statement)
