"""The two clinics of the API's tests, with a row in every table of the consistency engine."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from registry.access.scope import clinic_scope
from registry.models import Tester
from tests.conftest import TEST_ACTOR
from tests.registry.api.conftest import ids as ids
from tests.registry.api.conftest import scene as scene
from tests.registry.api.conftest import sent_visit as sent_visit

ROOT = "/api/v1/"


@pytest.fixture
def get(scene: Any, ids: Any) -> Callable[..., Any]:
    """What a role of the first clinic is answered: ``get("lead", "signals/")``."""

    def ask(role: str, address: str, **more: Any) -> Any:
        return scene.clients[role].get(ROOT + address.format(**ids), **more)

    return ask


@pytest.fixture
def inside(scene: Any) -> Callable[[], Any]:
    """A scope of the first clinic, to put rows in and to look at them."""
    return lambda: clinic_scope([scene.clinic.pk], by=TEST_ACTOR)


@pytest.fixture
def other_tester(inside: Any, scene: Any, ids: Any) -> str:
    """The id of T-08, a colleague of the tester T-07 who asks."""
    with inside():
        return str(Tester.objects.get(clinic=scene.clinic, code="T-08").id)
