"""What the house promises about itself: its top level, its pins, its walls, its documents."""

from __future__ import annotations

import re
import subprocess
import tomllib
from pathlib import Path

import pytest
import yaml

from registry.intake.checks import docs_table

ROOT = Path(__file__).resolve().parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())

TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "pyproject.toml",
    "requirements.lock",
    "manage.py",
    "docker-compose.yml",
    "registry",
    "analytics",
    "tests",
    "fixtures",
    "docs",
}


def tracked() -> list[str]:
    if not (ROOT / ".git").exists():
        pytest.skip("not a git checkout: there is no list of tracked files to read")
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    return listed.stdout.split("\n")


def test_nothing_stands_at_the_top_that_nobody_named():
    at_top = {name.split("/")[0] for name in tracked() if name}

    assert {name for name in at_top if not name.startswith(".")} == TOP_LEVEL


def test_the_first_paragraph_of_the_readme_states_the_job_and_the_commands_are_there():
    readme = (ROOT / "README.md").read_text()

    assert "caloric tests" in readme.split("\n\n")[1]
    assert "pip install uv && uv run manage.py demo" in readme
    assert "pip install uv && uv run pytest" in readme


def test_every_dependency_is_pinned_and_locked_with_hashes_and_without_an_address():
    lock = (ROOT / "requirements.lock").read_text()
    locked = dict(re.findall(r"^([a-z0-9-]+)==(\S+)", lock, flags=re.M))

    assert "://" not in lock
    for line in PROJECT["project"]["dependencies"]:
        name, version = re.fullmatch(r"([a-z0-9-]+)(?:\[.*\])?==(\S+)", line).groups()
        assert locked[name] == version
    assert len(re.findall(r"--hash=sha256:", lock)) >= len(locked)


def test_the_constraints_of_uv_give_the_locked_versions():
    constraints = dict(
        re.fullmatch(r"([a-z0-9-]+)==(\S+?)(?: ;.*)?", line).groups()
        for line in PROJECT["tool"]["uv"]["constraint-dependencies"]
    )
    lock = (ROOT / "requirements.lock").read_text()

    for name, version in re.findall(r"^([a-z0-9-]+)==(\S+)", lock, flags=re.M):
        assert constraints[name] == version


def test_every_setting_is_explained_to_operators():
    settings = (ROOT / "registry" / "settings.py").read_text()
    names = set(re.findall(r'env_(?:bool|int|secret|list)\(\s*"([A-Z_]+)"', settings))
    names |= set(re.findall(r'environ\.get\("([A-Z_]+)"', settings))
    explained = (ROOT / "docs" / "operating.md").read_text()

    assert len(names) > 10
    assert {name for name in names if f"`{name}`" not in explained} == set()


def test_only_the_settings_read_the_environment():
    readers = {
        path.relative_to(ROOT).as_posix()
        for room in ("registry", "analytics")
        for path in (ROOT / room).rglob("*.py")
        if re.search(r"os\.(environ\[|environ\.get|getenv)", path.read_text())
    }

    # The demo's start makes the environment of the processes that will read the settings.
    assert readers <= {"registry/settings.py", "registry/demo_service/start.py"}


def test_no_task_is_sent_past_the_outbox():
    senders = {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / "registry").rglob("*.py")
        if re.search(r"\.(delay|apply_async|send_task)\(", path.read_text())
    }

    assert senders == {"registry/outbox.py"}


def test_compose_names_what_it_uses():
    compose = yaml.safe_load((ROOT / "docker-compose.yml").read_text())
    services = compose["services"]

    assert set(services) == {"database", "broker", "migrate", "web", "worker"}
    for service in services.values():
        assert set(service.get("secrets", ())) <= set(compose["secrets"])
        for volume in service.get("volumes", ()):
            assert volume.split(":")[0] in compose["volumes"]
        for needed in service.get("depends_on", ()):
            assert needed in services
    for name in ("web", "worker", "migrate"):
        assert services[name]["read_only"] is True


def test_the_table_of_checks_in_the_documents_is_the_one_of_the_code():
    written = (ROOT / "docs" / "what-is-checked.md").read_text()

    assert written.endswith(docs_table())
