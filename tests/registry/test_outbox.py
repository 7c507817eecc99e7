"""Work that must happen: claimed once, given back, parked, found again."""

from __future__ import annotations

from datetime import timedelta

import pytest

from registry import outbox, tasks
from tests.conftest import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def message():
    return outbox.add("a.task", {}, at=NOW)


def state_of(message):
    message.refresh_from_db()
    return message.state, message.attempts


def test_a_row_is_taken_by_one_worker_only(message):
    outbox.claim(message.pk, at=NOW)

    with pytest.raises(outbox.AlreadyTaken):
        outbox.claim(message.pk, at=NOW)

    assert state_of(message) == ("running", 1)


def test_a_row_whose_lease_ran_out_may_be_taken_again(message, settings):
    outbox.claim(message.pk, at=NOW)

    outbox.claim(message.pk, at=NOW + timedelta(seconds=settings.OUTBOX_LEASE_SECONDS + 1))

    assert state_of(message) == ("running", 2)


def test_a_row_that_killed_its_worker_too_often_is_parked_with_its_reason(message, settings):
    settings.OUTBOX_MAX_ATTEMPTS = 2
    moment = NOW
    for _ in range(2):
        outbox.claim(message.pk, at=moment)
        moment += timedelta(seconds=settings.OUTBOX_LEASE_SECONDS + 1)

    with pytest.raises(outbox.AlreadyTaken):
        outbox.claim(message.pk, at=moment)

    assert state_of(message)[0] == "parked"
    assert message.parked_reason == "too_many_attempts"


def test_a_finished_row_is_not_done_again(message):
    outbox.claim(message.pk, at=NOW)
    outbox.finish(message.pk, at=NOW)

    with pytest.raises(outbox.AlreadyTaken):
        outbox.claim(message.pk, at=NOW + timedelta(days=1))


def test_a_slice_that_is_not_the_last_gives_its_row_back(message, monkeypatch):
    answers = iter([False, True])
    monkeypatch.setitem(tasks.HANDLERS, "a.task", lambda payload: next(answers))

    tasks.run_outbox_message(message_id=message.pk)
    assert state_of(message)[0] == "waiting"
    tasks.run_outbox_message(message_id=message.pk)

    assert state_of(message)[0] == "done"


def test_a_task_nobody_knows_is_parked_and_not_lost(message):
    tasks.run_outbox_message(message_id=message.pk)

    assert state_of(message)[0] == "parked"


def test_the_sweep_finds_what_waits_too_long_and_what_nobody_holds(message, settings):
    lease = timedelta(seconds=settings.OUTBOX_LEASE_SECONDS)
    held = outbox.add("b.task", {}, at=NOW)
    outbox.claim(held.pk, at=NOW)

    assert outbox.sweep(at=NOW) == 0
    assert outbox.sweep(at=NOW + lease + timedelta(seconds=1)) == 2


def test_a_task_that_fails_is_logged_without_what_it_held_and_tried_again(
    message, settings, monkeypatch, caplog
):
    def fails(payload):
        raise ValueError(payload["ref"])

    monkeypatch.setitem(tasks.HANDLERS, "a.task", fails)
    message.payload = {"ref": "S-HTKQB"}
    message.save()

    tasks.run_outbox_message(message_id=message.pk)

    assert state_of(message) == ("running", 1)
    assert "ValueError" in caplog.text
    assert "HTKQB" not in caplog.text
    # The sweep takes back what nobody holds any more.
    late = message.lease_until + timedelta(seconds=1)
    assert outbox.sweep(at=late) == 1
