"""A process that works on the tests' database until it is killed at a chosen moment.

Started as ``python -m tests.faults.victim WORK NUMBER MODULE FUNCTION``: it does the work, and
just after ``FUNCTION`` of ``MODULE`` returned for the ``NUMBER``-th time it writes a line and
waits, its transaction open if there is one. What it works on comes as JSON on standard input.
"""

from __future__ import annotations

import importlib
import io
import json
import sys
import time
from collections.abc import Callable
from typing import Any

import django

REACHED = "reached"


def stop_after(module: str, function: str, number: int) -> None:
    """Wrap the function so that the process stands still once it was done so often."""
    home = importlib.import_module(module)
    real = getattr(home, function)
    calls = 0

    def standing_still(*args: Any, **kwargs: Any) -> Any:
        nonlocal calls
        found = real(*args, **kwargs)
        calls += 1
        if calls == number:
            print(REACHED, flush=True)
            time.sleep(60)
        return found

    setattr(home, function, standing_still)


def upload(given: dict[str, Any]) -> None:
    from registry.access.scope import clinic_scope
    from registry.intake.uploads import upload_receive
    from registry.models import Clinic
    from tests.conftest import NOW, TEST_ACTOR

    clinic = Clinic.objects.get(pk=given["clinic"])
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        stream = io.BytesIO(given["content"].encode())
        upload_receive(clinic=clinic, stream=stream, by=TEST_ACTOR, at=NOW)


def message(given: dict[str, Any]) -> None:
    from registry.tasks import run_outbox_message

    run_outbox_message(message_id=given["message"])


WORKS: dict[str, Callable[[dict[str, Any]], None]] = {"upload": upload, "message": message}


def main(work: str, number: str, module: str, function: str) -> None:
    django.setup()
    stop_after(module, function, int(number))
    WORKS[work](json.load(sys.stdin))


if __name__ == "__main__":
    main(*sys.argv[1:])
