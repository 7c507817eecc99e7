"""A process killed outright (SIGKILL) at any moment loses nothing accepted and counts none twice.

Real processes against a real PostgreSQL, as the application's own role.
"""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit, urlunsplit

import pytest
from django.db import connection
from django.utils import timezone

from registry import outbox
from registry.access.scope import clinic_scope
from registry.intake import recompute
from registry.intake.uploads import upload_receive
from registry.models import (
    ChangedKey,
    Clinic,
    OutboxMessage,
    RecomputeRun,
    Upload,
    Visit,
    VisitResult,
)
from registry.tasks import run_outbox_message
from tests.conftest import NOW, TEST_ACTOR
from tests.faults.victim import REACHED
from tests.registry.intake.test_recompute import fill, stricter

pytestmark = pytest.mark.django_db(transaction=True)

ROOT = Path(__file__).resolve().parents[2]
LEASE_SECONDS = 1


def database_url() -> str:
    """The address of this test's own database, for a process of its own."""
    parts = urlsplit(os.environ["DATABASE_URL"])
    return urlunsplit(parts._replace(path=f"/{connection.settings_dict['NAME']}"))


def killed(work: str, given: dict[str, Any], *, after: tuple[int, str, str]) -> None:
    """Do the work in a process, and kill it just after the n-th call of a function."""
    number, module, function = after
    environment = os.environ | {
        "DATABASE_URL": database_url(),
        "DJANGO_SETTINGS_MODULE": "registry.settings",
        "INTAKE_CHUNK_VISITS": "2",
        "OUTBOX_LEASE_SECONDS": str(LEASE_SECONDS),
    }
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.faults.victim", work, str(number), module, function],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=environment,
        cwd=ROOT,
    )
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write(json.dumps(given))
    process.stdin.close()
    line = process.stdout.readline()
    process.kill()
    process.wait()
    process.stdout.close()
    assert line.strip() == REACHED


def count(clinic: Clinic, model: Any) -> int:
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        return int(model.objects.count())


@pytest.fixture
def two_clinics(make_network, make_clinic, visit_payload):
    """Five visits each of 23.1 %, and since then a limit of 20 % in place of 25."""
    network = make_network()
    clinics = [make_clinic(code, network=network) for code in ("CL-A", "CL-B")]
    for clinic in clinics:
        fill(clinic, visit_payload, 5)
    stricter(network)
    return clinics


def started(clinic: Clinic) -> tuple[RecomputeRun, OutboxMessage]:
    run = recompute.recompute_start(network=clinic.network, by=TEST_ACTOR, at=NOW)
    return run, OutboxMessage.objects.get()


def beyond_the_limit(clinics: list[Clinic]) -> int:
    with clinic_scope([clinic.pk for clinic in clinics], by=TEST_ACTOR):
        return VisitResult.objects.filter(
            assessment_codes__contains=["unilateral_weakness"]
        ).count()


def test_a_file_whose_reader_is_killed_leaves_nothing_and_loads_whole_afterwards(
    make_clinic, visit_payload
):
    clinic = make_clinic()
    visits = [visit_payload(visit_ref=f"V-{letter}RST") for letter in "BCDFGHJ"]
    content = "\n".join(json.dumps(one) for one in visits)

    given = {"clinic": clinic.pk, "content": content}
    killed("upload", given, after=(2, "registry.intake.uploads", "_load_chunk"))

    assert [count(clinic, model) for model in (Visit, Upload, ChangedKey)] == [0, 0, 0]
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        upload, is_new = upload_receive(
            clinic=clinic, stream=io.BytesIO(content.encode()), by=TEST_ACTOR, at=NOW
        )
    assert (is_new, upload.visits_created, upload.state) == (True, 7, "finished")
    assert count(clinic, Visit) == 7


# Of two a chunk, five visits are chunks 1 to 3, chunk 4 finds that there are no more, and
# chunk 5 is the first of the other clinic.
@pytest.mark.parametrize("chunk", [1, 4, 5])
def test_a_recomputation_killed_between_chunks_counts_every_visit_once(
    two_clinics, settings, chunk
):
    settings.INTAKE_CHUNK_VISITS = 2
    run, message = started(two_clinics[0])

    killed("message", {"message": message.pk}, after=(chunk, recompute.__name__, "_one_chunk"))
    seen_by_the_killed = RecomputeRun.objects.get(pk=run.pk).visits_seen
    finished = recompute.recompute_slice(run_id=run.pk, clock=timezone.now)

    run.refresh_from_db()
    assert seen_by_the_killed == {1: 2, 4: 5, 5: 7}[chunk]
    assert (finished, run.state) == (True, "finished")
    assert (run.visits_seen, run.visits_changed) == (10, 10)
    assert run.summary["codes"]["assessments.unilateral_weakness"] == {"gained": 10, "lost": 0}
    assert beyond_the_limit(two_clinics) == 10


def test_a_chunk_killed_before_its_commit_is_done_again_and_counted_once(two_clinics, settings):
    settings.INTAKE_CHUNK_VISITS = 2
    run, message = started(two_clinics[0])

    after = (2, recompute.__name__, "visits_recompute")
    killed("message", {"message": message.pk}, after=after)
    recompute.recompute_slice(run_id=run.pk, clock=timezone.now)

    run.refresh_from_db()
    assert (run.visits_seen, run.visits_changed) == (10, 10)
    assert beyond_the_limit(two_clinics) == 10


def test_the_work_of_a_killed_worker_is_found_by_the_sweep(two_clinics, settings, monkeypatch):
    settings.INTAKE_CHUNK_VISITS = 2
    settings.OUTBOX_LEASE_SECONDS = LEASE_SECONDS
    run, message = started(two_clinics[0])
    killed("message", {"message": message.pk}, after=(2, recompute.__name__, "_one_chunk"))
    message.refresh_from_db()
    assert message.state == "running"
    # The doorbell of these tests has no worker behind it.
    monkeypatch.setattr(outbox, "_ring", lambda number: run_outbox_message(message_id=number))

    time.sleep(max(0.0, (message.lease_until - timezone.now()).total_seconds()))
    found = outbox.sweep(at=timezone.now() + timedelta(milliseconds=50))

    message.refresh_from_db()
    run.refresh_from_db()
    assert (found, message.state, message.attempts) == (1, "done", 2)
    assert (run.state, run.visits_seen, run.visits_changed) == ("finished", 10, 10)
