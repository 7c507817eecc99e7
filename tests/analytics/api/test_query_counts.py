"""How many queries each answer takes, written down; the number of rows does not change it.

A token's own queries and the scope's are among them. Change a number here on purpose only.
"""

from __future__ import annotations

from datetime import date
from uuid import uuid4

import pytest

from analytics.models import LookBack, LookBackVisit, SignalEntry, StandOut
from registry.models import TemperatureCheck, Tester
from tests.analytics.api.conftest import ROOT
from tests.analytics.rows import MONTH, make_signal
from tests.conftest import NOW
from tests.registry.api.test_query_counts import queries_of

pytestmark = pytest.mark.django_db
# Address: as a site lead, as a lead.
QUERIES = {
    "measures/": (7, 8),
    "clinics/": (8, 9),
    "testers/{tester}/summary/": (12, 13),
    "irrigators/{irrigator}/summary/": (14, 15),
    "clinics/{clinic}/summary/": (13, 14),
    "signals/": (12, 13),
    "signals/{signal}/": (12, 13),
    "visits-to-check/": (11, 11),
    "look-backs/": (10, 11),
    "look-backs/{look_back}/": (11, 12),
    "dashboards/tester/?about={tester}": (11, 11),
}


def counted(scene, ids):
    return {
        address: tuple(
            queries_of(scene.clients[role], ROOT + address.format(**ids))
            for role in ("site_lead", "lead")
        )
        for address in QUERIES
    }


def test_an_answer_takes_the_queries_written_down(scene, ids):
    counted(scene, ids)

    assert counted(scene, ids) == QUERIES


def test_more_rows_take_no_more_queries(scene, ids, sent_visit, inside):
    counted(scene, ids)
    before = counted(scene, ids)
    for number in range(4):
        visit = sent_visit(visit_ref=f"V-B{number}B", subject_ref=f"S-B{number}B")["id"]
        with inside():
            add_rows(scene.clinic, ids, visit, number)

    assert counted(scene, ids) == before


def add_rows(clinic, ids, visit, number):
    """One more signal about one more tester, one more visit that stands out and is looked at."""
    key = {"clinic_id": clinic.pk}
    tester = Tester.objects.create(clinic=clinic, code=f"T-3{number}", created_at=NOW)
    signal = make_signal(clinic, subject_id=tester.id)
    SignalEntry.objects.create(
        **key,
        signal_id=signal.id,
        kind="reply",
        note="",
        made_at=NOW,
        made_by="x",
        made_as="tester",
    )
    StandOut.objects.create(
        **key,
        visit_id=visit,
        tester_id=tester.id,
        month=MONTH,
        visit_date=date(2026, 3, 2),
        reason_codes=[],
        reasons=[],
        negative_peaks=0,
        reference_version=1,
    )
    look_back_again(clinic, ids, visit)


def look_back_again(clinic, ids, visit):
    check = TemperatureCheck.objects.filter(clinic_id=clinic.pk).order_by("checked_at").first()
    check.id, check.checked_at = uuid4(), check.checked_at.replace(year=check.checked_at.year - 1)
    check.save(force_insert=True)
    row = LookBack.objects.get(clinic_id=clinic.pk, id=ids["look_back"])
    LookBackVisit.objects.create(
        clinic_id=clinic.pk,
        look_back_id=row.id,
        visit_id=visit,
        month=MONTH,
        visit_date=date(2026, 3, 2),
        as_sent=[],
        at_worst=[],
        changed=[],
    )
    row.id, row.check_id = uuid4(), check.id
    row.save(force_insert=True)
