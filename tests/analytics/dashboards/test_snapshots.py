"""Figures made ahead: nobody else's codes in them, nothing but plain numbers, and all at once."""

from __future__ import annotations

import json
from datetime import date, timedelta

import numpy as np
import pytest

from analytics import work
from analytics.dashboards.snapshots import snapshots_make
from analytics.models import Snapshot
from registry.access.scope import clinic_scope
from registry.intake.submit import visit_submit
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db
LETTERS = "BCDFGHJKLMNPQRSTVWXZ"


@pytest.fixture
def network(make_clinic, make_network, visit_payload):
    """Five clinics of two testers, some weeks of visits, evaluated."""
    draw, network = np.random.default_rng(3), make_network()
    for place in range(5):
        clinic = make_clinic(f"CL-{LETTERS[place]}", network=network)
        with clinic_scope([clinic.pk], by=TEST_ACTOR):
            for number in range(30):
                name = f"{LETTERS[number // 20]}{LETTERS[number % 20]}XQ"
                data = visit_payload(
                    peaks=tuple(float(one) for one in draw.lognormal(3.0, 0.3, 4).round(1)),
                    visit_ref=f"V-{name}",
                    subject_ref=f"S-{name}",
                    visit_date=(date(2025, 11, 1) + timedelta(days=4 * number)).isoformat(),
                    tester=["T-07", "T-08"][number % 2],
                )
                visit_submit(clinic=clinic, data=data, by=TEST_ACTOR, at=NOW, via="api")
    work.network_rebuild(network, clock=lambda: NOW)
    return network


def test_each_audience_has_its_figures_and_no_others(network):
    snapshots_make(network, at=NOW)

    ids = list(network.clinics.order_by("id").values_list("id", flat=True))
    codes = set(network.clinics.values_list("code", flat=True))
    with clinic_scope(ids, by=TEST_ACTOR):
        rows = list(Snapshot.objects.all())
        own = {clinic.pk: clinic.code for clinic in network.clinics.all()}
    names = {(row.name, row.audience) for row in rows if row.content["figures"]}
    assert {("network", "lead"), ("measure", "lead"), ("tester", "tester")} <= names
    for row in rows:
        text = json.dumps(row.content, allow_nan=False)
        if len(row.clinics) == 1:
            others = codes - {own[row.clinics[0]]}
            assert not any(code in text for code in others), (row.name, row.audience)


def test_a_second_making_takes_the_place_of_the_first(network):
    snapshots_make(network, at=NOW)
    ids = list(network.clinics.values_list("id", flat=True))
    with clinic_scope(ids, by=TEST_ACTOR):
        first = Snapshot.objects.count()

    snapshots_make(network, at=NOW + timedelta(hours=1))

    with clinic_scope(ids, by=TEST_ACTOR):
        assert Snapshot.objects.count() == first
        assert set(Snapshot.objects.values_list("built_at", flat=True)) == {
            NOW + timedelta(hours=1)
        }


def test_a_network_without_visits_has_no_figures_that_break(make_clinic):
    clinic = make_clinic()
    work.network_rebuild(clinic.network, clock=lambda: NOW)

    snapshots_make(clinic.network, at=NOW)

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        for row in Snapshot.objects.all():
            json.dumps(row.content, allow_nan=False)
            assert row.clinics == [clinic.pk]
