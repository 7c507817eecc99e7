"""How many queries each list takes, written down; the number of rows does not change it.

A token's own queries and the scope's are among them. Change a number here on purpose only.
"""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from registry.access.scope import clinic_scope
from registry.models import (
    EquipmentEvent,
    Irrigator,
    Recorder,
    TemperatureCheck,
    Tester,
    Thermometer,
)
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db
QUERIES = {
    "visits/": 16,
    "testers/": 8,
    "irrigators/": 8,
    "recorders/": 8,
    "thermometers/": 8,
    "temperature-checks/": 8,
    "equipment-events/": 8,
    "uploads/{upload}/problems/": 9,
}


def queries_of(client, address):
    with CaptureQueriesContext(
        connection,
    ) as captured:
        assert client.get(address).status_code == 200
    return len(captured)


@pytest.mark.parametrize("address", QUERIES)
def test_a_list_takes_the_queries_written_down(address, scene, ids):
    client = scene.clients["coordinator"]
    address_used = f"/api/v1/{address.format(**ids)}"
    client.get(address_used)

    assert queries_of(client, address_used) == QUERIES[address]


def test_more_rows_take_no_more_queries(scene, ids, sent_visit):
    client = scene.clients["coordinator"]
    lists = [f"/api/v1/{address.format(**ids)}" for address in QUERIES]
    before = {address: queries_of(client, address) for address in lists}
    add_rows(scene.clinic, sent_visit)

    after = {address: queries_of(client, address) for address in lists}

    assert after == before


def add_rows(clinic, sent_visit):
    for letter in "BCDFGHJ":
        sent_visit(visit_ref=f"V-{letter * 4}", subject_ref=f"S-{letter * 4}")
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        irrigator = Irrigator.objects.get(code="IR-2")
        for number in range(20, 28):
            Tester.objects.create(clinic=clinic, code=f"T-{number}", created_at=NOW)
            for kind in (Irrigator, Recorder, Thermometer):
                kind.objects.create(clinic=clinic, code=f"D-{number}", created_at=NOW)
            EquipmentEvent.objects.create(
                clinic_id=clinic.pk,
                irrigator_id=irrigator.id,
                kind="moved",
                happened_at=NOW,
                recorded_at=NOW,
                recorded_by="test",
            )
            TemperatureCheck.objects.create(
                clinic_id=clinic.pk,
                irrigator_id=irrigator.id,
                stimulus="warm",
                set_temperature_c=44,
                reading_c=44,
                tolerance_c=0.5,
                within_tolerance=True,
                checked_at=NOW.replace(minute=number),
                recorded_at=NOW,
                recorded_by="test",
            )
