"""A clinic with stored visits, and what a page says when its tags are taken away."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from typing import Any
from uuid import UUID

import pytest

from registry.access.scope import clinic_scope
from tests.conftest import NOW, TEST_ACTOR


def said(response: Any) -> str:
    """The words of a page in the order they stand, white space made one."""
    text = re.sub(r"(?s)<(style|script|title)\b.*?</\1>", " ", response.content.decode())
    text = re.sub(r"</?(strong|span|a)\b[^>]*>", "", text)
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", text))).strip()


def index(response: Any, name: str) -> str:
    """What a page says of one index."""
    found = re.search(
        rf'(?s)data-index="{name}"><dt>.*?</dt><dd>(.*?)</dd>', response.content.decode()
    )
    assert found is not None, f"the page has no index {name}"
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", found[1]))).strip()


@pytest.fixture
def store(visit_payload: Callable[..., dict[str, Any]]) -> Callable[..., UUID]:
    """Store a visit at a clinic and give its id; keywords replace fields of the usual one."""
    from registry.intake.submit import visit_submit

    def make(clinic: Any, **fields: Any) -> UUID:
        with clinic_scope([clinic.pk], by=TEST_ACTOR):
            submitted = visit_submit(
                clinic=clinic, data=visit_payload(**fields), by=TEST_ACTOR, at=NOW, via="api"
            )
        return submitted.visit_id

    return make


@pytest.fixture
def check(make_clinic: Callable[..., Any]) -> Callable[..., Any]:
    """Record a temperature check of irrigator IR-2, as a tester would."""
    from registry.roster.temperature_checks import temperature_check_record

    def make(clinic: Any, *, reading: float, day: int = 1, **fields: Any) -> Any:
        data = {
            "irrigator": "IR-2",
            "checked_at": f"2026-03-{day:02}T08:00:00+00:00",
            "stimulus": "warm",
            "set_temperature_c": 44.0,
            "reading_c": reading,
        } | fields
        with clinic_scope([clinic.pk], by=TEST_ACTOR):
            return temperature_check_record(clinic=clinic, data=data, by=TEST_ACTOR, at=NOW)

    return make


@pytest.fixture
def see(make_member: Callable[..., Any], browser_of: Callable[..., Any]) -> Callable[..., Any]:
    """A page as a member of the clinic gets it, a coordinator unless said otherwise."""

    def get(place: Any, address: str, *, role: str = "coordinator", **fields: Any) -> Any:
        return browser_of(make_member(role, place, **fields)).get(address)

    return get
