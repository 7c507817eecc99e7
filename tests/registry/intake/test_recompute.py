"""Stored results computed again: all of them, resumable, and what changed written down."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from registry.access.scope import clinic_scope
from registry.caloric.criteria import DEFAULT_CRITERIA
from registry.intake import recompute
from registry.intake.submit import visit_submit
from registry.models import (
    CriteriaSet,
    Irrigator,
    OutboxMessage,
    RecomputeRun,
    RowVersion,
    TemperatureCheck,
    VisitResult,
)
from registry.tasks import run_outbox_message
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db

LATER = NOW + timedelta(hours=1)


def fill(clinic, visit_payload, count, **fields):
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        for number in range(count):
            data = visit_payload(visit_ref=f"V-QRS{'BCDFGHJK'[number]}", **fields)
            visit_submit(clinic=clinic, data=data, by=TEST_ACTOR, at=NOW, via="api")


def stricter(network, value=20.0):
    """The network's own set: 20 % in place of 25 (Murnane et al., Ear Hear 2009;30 uses both)."""
    content = DEFAULT_CRITERIA.to_json() | {"name": "own", "version": 1}
    for limit in content["limits"]:
        if limit["code"] == "unilateral_weakness":
            limit["value"] = value
    network.criteria_set = CriteriaSet.objects.create(
        network=network, name="own", version=1, content=content, created_at=NOW, created_by="test"
    )
    network.save()


def test_other_criteria_change_every_clinics_assessments(make_network, make_clinic, visit_payload):
    network = make_network()
    clinics = [make_clinic(code, network=network) for code in ("CL-A", "CL-B")]
    for clinic in clinics:
        fill(clinic, visit_payload, 3)  # 23.1 %: beyond 20, not beyond 25
    stricter(network)

    run = recompute.recompute_start(network=network, by=TEST_ACTOR, at=NOW)
    run_outbox_message(message_id=OutboxMessage.objects.get().pk)

    run.refresh_from_db()
    assert (run.state, run.visits_seen, run.visits_changed) == ("finished", 6, 6)
    assert run.summary["codes"]["assessments.unilateral_weakness"] == {"gained": 6, "lost": 0}
    with clinic_scope([clinic.pk for clinic in clinics], by=TEST_ACTOR):
        codes = VisitResult.objects.values_list("assessment_codes", "criteria_set__name")
        assert all("unilateral_weakness" in found and name == "own" for found, name in codes)
        assert RowVersion.objects.filter(table_name="registry_visitresult").count() == 6
    assert OutboxMessage.objects.get().state == "done"


def test_nothing_changes_when_nothing_changed(make_network, make_clinic, visit_payload):
    clinic = make_clinic()
    fill(clinic, visit_payload, 3)

    run = recompute.recompute_start(network=None, by=TEST_ACTOR, at=NOW)
    finished = recompute.recompute_slice(run_id=run.pk, clock=lambda: LATER)

    run.refresh_from_db()
    assert finished
    assert (run.visits_seen, run.visits_changed, run.summary["indices"]) == (3, 0, {})


def test_a_run_goes_on_from_where_it_stopped(make_network, make_clinic, visit_payload, settings):
    settings.INTAKE_CHUNK_VISITS = 2
    clinic = make_clinic()
    fill(clinic, visit_payload, 5)
    stricter(clinic.network)
    run = recompute.recompute_start(network=clinic.network, by=TEST_ACTOR, at=NOW)
    moments = iter([NOW, NOW, NOW + timedelta(seconds=61)])

    first = recompute.recompute_slice(run_id=run.pk, clock=lambda: next(moments))
    run.refresh_from_db()
    seen_first = run.visits_seen
    second = recompute.recompute_slice(run_id=run.pk, clock=lambda: LATER)

    run.refresh_from_db()
    assert (first, seen_first) == (False, 2)
    assert (second, run.visits_seen, run.visits_changed) == (True, 5, 5)


def test_a_reading_recorded_later_changes_the_findings_of_the_visits_it_touches(
    make_clinic, visit_payload
):
    clinic = make_clinic()
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        visit_submit(clinic=clinic, data=visit_payload(), by=TEST_ACTOR, at=NOW, via="api")
        assert "no_current_temperature_check" in VisitResult.objects.get().finding_codes
        irrigator = Irrigator.objects.get()
        morning = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)
        for stimulus, temperature in (("warm", 44.0), ("cool", 30.0)):
            TemperatureCheck.objects.create(
                clinic_id=clinic.pk,
                irrigator_id=irrigator.id,
                checked_at=morning,
                stimulus=stimulus,
                set_temperature_c=temperature,
                reading_c=temperature,
                tolerance_c=0.5,
                within_tolerance=True,
                recorded_at=NOW,
                recorded_by="test",
            )

        changed = recompute.recompute_for_checks(
            clinic=clinic, check=TemperatureCheck.objects.get(stimulus="warm"), at=LATER
        )

        assert changed == 1
        assert "no_current_temperature_check" not in VisitResult.objects.get().finding_codes
    assert RecomputeRun.objects.count() == 0


def reading(clinic, irrigator, moment, stimulus, temperature, *, off=0.0):
    return TemperatureCheck.objects.create(
        clinic_id=clinic.pk,
        irrigator_id=irrigator.id,
        checked_at=moment,
        stimulus=stimulus,
        set_temperature_c=temperature,
        reading_c=temperature + off,
        tolerance_c=0.5,
        within_tolerance=abs(off) <= 0.5,
        recorded_at=NOW,
        recorded_by="test",
    )


def test_withdrawing_the_only_reading_of_a_stimulus_reaches_visits_past_the_others_readings(
    make_clinic, visit_payload
):
    """A check covers only its own stimulus and set temperature (common practice)."""
    clinic = make_clinic()
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        irrigator = Irrigator.objects.get()
        bad = reading(clinic, irrigator, NOW - timedelta(days=12), "cool", 30.0, off=2.0)
        for days in (13, 11, 9):
            reading(clinic, irrigator, NOW - timedelta(days=days), "warm", 44.0)
        visit_submit(clinic=clinic, data=visit_payload(), by=TEST_ACTOR, at=NOW, via="api")
        assert "after_failed_check" in VisitResult.objects.get().finding_codes

        TemperatureCheck.objects.filter(id=bad.id).update(withdrawn_at=NOW, withdrawn_by="test")
        changed = recompute.recompute_for_checks(clinic=clinic, check=bad, at=LATER)

        assert changed == 1
        assert "after_failed_check" not in VisitResult.objects.get().finding_codes


def test_a_label_used_again_does_not_lend_its_readings_to_the_old_devices_visits(
    make_clinic, visit_payload
):
    clinic = make_clinic()
    fill(clinic, visit_payload, 1)
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        Irrigator.objects.update(retired_at=NOW.date())
        newer = Irrigator.objects.create(
            clinic=clinic, code="IR-2", created_at=NOW, in_service_from=date(2026, 3, 1)
        )
        reading(clinic, newer, datetime(2026, 3, 2, 7, tzinfo=UTC), "warm", 44.0)
        before = VisitResult.objects.get().findings

    run = recompute.recompute_start(network=None, by=TEST_ACTOR, at=NOW)
    recompute.recompute_slice(run_id=run.pk, clock=lambda: LATER)

    run.refresh_from_db()
    assert (run.visits_seen, run.visits_changed) == (1, 0)
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        assert VisitResult.objects.get().findings == before
