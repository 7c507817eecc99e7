"""Indices without storing anything."""

from __future__ import annotations

import pytest

from registry.access.roles import ROLES
from tests.conftest import irrigation

pytestmark = pytest.mark.django_db
INDICES = "/api/v1/indices/"
# (28.4 + 19.6) - (17.2 + 12.8) = 18 of 78 in all: Jongkees et al. 1962 (from memory).
FOUR = [
    irrigation("right", "warm", 28.4),
    irrigation("left", "warm", 17.2),
    irrigation("right", "cool", 19.6),
    irrigation("left", "cool", 12.8),
]


@pytest.mark.parametrize("role", ROLES)
def test_any_token_computes_and_nothing_is_stored(scene, role):
    before = scene.snapshot()

    response = scene.clients[role].post(INDICES, {"irrigations": FOUR}, format="json")

    assert response.status_code == 200
    indices = response.json()["indices"]
    assert indices["unilateral_weakness_percent"] == pytest.approx(100 * 18 / 78)
    assert indices["total_spv"] == pytest.approx(78)
    assert scene.snapshot() == before


def test_a_set_temperature_may_be_absent(scene):
    bare = [{"ear": one["ear"], "stimulus": one["stimulus"], "peak_spv": 10} for one in FOUR]

    response = scene.clients["researcher"].post(INDICES, {"irrigations": bare}, format="json")

    assert response.json()["indices"]["unilateral_weakness_percent"] == 0


def test_a_list_is_answered_in_its_order(scene):
    other = [one | {"peak_spv": 10} for one in FOUR]
    body = [{"irrigations": FOUR}, {"irrigations": other}, {"irrigations": FOUR}]

    response = scene.clients["tester"].post(INDICES, body, format="json")

    found = [one["indices"]["total_spv"] for one in response.json()["results"]]
    assert found == pytest.approx([78, 40, 78])


def test_a_fault_in_a_list_is_told_with_its_place_in_the_list(scene):
    body = [{"irrigations": FOUR}, {"irrigations": [FOUR[0] | {"peak_spv": "31"}]}]

    response = scene.clients["tester"].post(INDICES, body, format="json")

    assert response.status_code == 422
    assert [(one["pointer"], one["code"]) for one in response.json()["errors"]] == [
        ("/1/irrigations/0/peak_spv", "not_a_number")
    ]


def test_more_than_ten_thousand_at_once_are_refused(scene):
    response = scene.clients["tester"].post(INDICES, [{}] * 10_001, format="json")

    assert response.status_code == 422
    assert response.json()["errors"][0]["code"] == "too_many"


def test_an_undefined_index_is_null_with_its_reason(scene):
    silent = [one | {"peak_spv": 0} for one in FOUR]

    response = scene.clients["tester"].post(INDICES, {"irrigations": silent}, format="json")

    indices = response.json()["indices"]
    assert indices["unilateral_weakness_percent"] is None
    assert indices["undefined_reason"] == "no_response"
