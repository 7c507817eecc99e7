"""A row in every table of the consistency engine, for tests of what the database refuses."""

from __future__ import annotations

from datetime import date

from analytics import models
from registry.models import Irrigator, TemperatureCheck, Tester, Visit
from tests.conftest import NOW

MONTH = date(2026, 3, 1)


def fill_analytics(clinic):
    """The clinic must hold a visit, a tester, an irrigator and a temperature check."""
    key = {"clinic_id": clinic.pk}
    tester = Tester.objects.filter(clinic=clinic).order_by("code")[0].id
    irrigator = Irrigator.objects.filter(clinic=clinic).order_by("code")[0].id
    visit = Visit.objects.filter(clinic_id=clinic.pk).order_by("id")[0]
    check = TemperatureCheck.objects.filter(clinic_id=clinic.pk).order_by("id")[0]
    sums = {name: [1.0] for name in ("n", "s", "ss", "expected")}
    models.Cell.objects.create(
        **key,
        **sums,
        month=MONTH,
        tester_id=tester,
        irrigator_id=irrigator,
        stratum="water_open/unstated",
        visits=1,
        scores_version=1,
        mix_version=0,
        computed_at=NOW,
    )
    models.CheckCell.objects.create(
        **key,
        month=MONTH,
        irrigator_id=irrigator,
        stimulus="warm",
        readings=1,
        within=1,
        s=0.1,
        ss=0.01,
        computed_at=NOW,
    )
    models.RetestPair.objects.create(
        **key,
        visit_id=visit.id,
        earlier_visit_id=visit.id,
        subject_id=visit.subject_id,
        tester_id=tester,
        earlier_tester_id=tester,
        month=MONTH,
        days=7,
        comparable=True,
    )
    models.StandOut.objects.create(
        **key,
        visit_id=visit.id,
        tester_id=tester,
        month=MONTH,
        visit_date=visit.visit_date,
        reason_codes=["negative_peaks"],
        reasons=[],
        negative_peaks=3,
        reference_version=1,
    )
    models.SubjectSummary.objects.create(
        **key, subject_kind="tester", subject_id=tester, figures={}, built_at=NOW
    )
    signal = make_signal(clinic, subject_id=tester)
    models.SignalEntry.objects.create(
        **key,
        signal_id=signal.id,
        kind="reply",
        note="",
        made_at=NOW,
        made_by="x",
        made_as="tester",
    )
    look_back = models.LookBack.objects.create(
        **key,
        irrigator_id=irrigator,
        check_id=check.id,
        stimulus="warm",
        set_temperature_c=44.0,
        deviation_c=1.0,
        tolerance_c=0.5,
        checked_at=NOW,
        opened_at=NOW,
    )
    models.LookBackVisit.objects.create(
        **key,
        look_back_id=look_back.id,
        visit_id=visit.id,
        month=MONTH,
        visit_date=visit.visit_date,
        as_sent=[],
        at_worst=[],
        changed=[],
    )


def make_signal(clinic, **fields):
    """A signal to review about a change of the right-left balance."""
    return models.Signal.objects.create(
        clinic_id=clinic.pk,
        **{
            "subject_kind": "tester",
            "measure": "right_left_balance",
            "channel": "change",
            "tier": "please_review",
            "direction": "higher",
            "opened_month": MONTH,
            "opened_at": NOW,
            "since": MONTH,
            "distance": 4.5,
            "last_month_beyond": MONTH,
            "evidence": {"visits": 40},
            "engine_version": 1,
            "leads_from": NOW,
        }
        | fields,
    )
