"""One visit sent, sent again, changed, amended, withdrawn, erased."""

from __future__ import annotations

import json
from datetime import date

import pytest

from registry.access.scope import clinic_scope
from registry.caloric.compute import compute_visit
from registry.intake.context import NoAgreement
from registry.intake.erase import subject_erase
from registry.intake.stored import stored_visits
from registry.intake.submit import (
    VersionMismatch,
    VisitConflict,
    VisitRefused,
    visit_amend,
    visit_submit,
    visit_withdraw,
)
from registry.models import (
    AuditEvent,
    ChangedKey,
    Irrigation,
    Irrigator,
    ResponseBeats,
    RowVersion,
    Subject,
    Tester,
    Visit,
    VisitResult,
)
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db


@pytest.fixture
def clinic(make_clinic):
    clinic = make_clinic()
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        yield clinic


def send(clinic, data):
    return visit_submit(clinic=clinic, data=data, by=TEST_ACTOR, at=NOW, via="api")


def amend(clinic, visit_id, data, *, version=1, reason="entry_error"):
    return visit_amend(
        clinic=clinic,
        visit_id=visit_id,
        data=data,
        reason=reason,
        expected_version=version,
        by=TEST_ACTOR,
        at=NOW,
    )


def test_a_new_visit_is_stored_with_every_index_recomputed(clinic, visit_payload):
    submitted = send(clinic, visit_payload())

    result = VisitResult.objects.get(visit_id=submitted.visit_id)
    # 100 * ((28.4 + 19.6) - (17.2 + 12.8)) / 78, Jongkees et al. 1962
    assert result.unilateral_weakness_percent == pytest.approx(100 * 18 / 78, abs=1e-12)
    assert result.lower_side == "left"
    assert Irrigation.objects.filter(visit_id=submitted.visit_id, counted=True).count() == 4


def test_the_same_content_again_is_the_same_visit(clinic, visit_payload):
    first = send(clinic, visit_payload())

    again = send(clinic, visit_payload())

    assert (again.visit_id, again.created) == (first.visit_id, False)
    assert Visit.objects.count() == 1


def test_the_same_reference_with_other_content_is_refused_and_nothing_changes(
    clinic, visit_payload
):
    send(clinic, visit_payload())

    with pytest.raises(VisitConflict, match="visit_changed"):
        send(clinic, visit_payload(peaks=(30, 20, 10, 12)))

    assert Irrigation.objects.get(ear="right", stimulus="warm").peak_spv == 28.4


def test_another_sign_convention_with_the_same_results_is_the_same_visit(clinic, visit_payload):
    send(clinic, visit_payload(peaks=(20, 18, 16, 14)))

    again = send(
        clinic,
        visit_payload(peaks=(20, -18, -16, 14), sign_convention="right_beating_positive"),
    )

    assert not again.created


def test_without_an_agreement_in_force_nothing_is_accepted(
    make_network, make_clinic, visit_payload
):
    clinic = make_clinic("CL-X", network=make_network("NX", agreement=False))

    with clinic_scope([clinic.pk], by=TEST_ACTOR), pytest.raises(NoAgreement):
        send(clinic, visit_payload())


def test_every_fault_is_told_at_once_and_nothing_is_stored(clinic, visit_payload):
    data = visit_payload(visit_date="2026-03-11", tester="T-99", age_years=-1)
    data["irrigations"][0]["peak_spv"] = 900

    with pytest.raises(VisitRefused) as refused:
        send(clinic, data)

    found = {(fault.pointer, fault.code) for fault in refused.value.faults}
    assert found == {
        ("/visit_date", "date_in_future"),
        ("/tester", "unknown_tester"),
        ("/age_years", "out_of_range"),
        ("/irrigations/0/peak_spv", "out_of_range"),
    }
    assert Visit.objects.count() == Subject.objects.count() == 0


def test_an_amendment_recomputes_and_keeps_the_old_version(clinic, visit_payload):
    visit_id = send(clinic, visit_payload()).visit_id

    version = amend(clinic, visit_id, visit_payload(peaks=(17.2, 12.8, 28.4, 19.6)))

    assert version == 2
    assert VisitResult.objects.get(visit_id=visit_id).lower_side == "right"
    old = RowVersion.objects.get(visit_id=visit_id, table_name="registry_visitresult")
    assert old.content["lower_side"] == "left"
    assert RowVersion.objects.filter(table_name="registry_irrigation").count() == 4


def test_an_amendment_of_a_version_that_is_not_the_newest_is_refused(clinic, visit_payload):
    visit_id = send(clinic, visit_payload()).visit_id
    amend(clinic, visit_id, visit_payload(age_years=55))

    with pytest.raises(VersionMismatch) as mismatch:
        amend(clinic, visit_id, visit_payload(age_years=56), version=1)

    assert mismatch.value.current == 2


def test_an_amendment_may_not_change_the_reference(clinic, visit_payload):
    visit_id = send(clinic, visit_payload()).visit_id

    with pytest.raises(VisitRefused) as refused:
        amend(clinic, visit_id, visit_payload(visit_ref="V-ZZZZZ"))

    assert [fault.code for fault in refused.value.faults] == ["visit_ref_changed"]


def test_a_withdrawn_visit_sent_again_stays_withdrawn(clinic, visit_payload):
    visit_id = send(clinic, visit_payload()).visit_id
    visit_withdraw(clinic=clinic, visit_id=visit_id, by=TEST_ACTOR, at=NOW)

    with pytest.raises(VisitConflict, match="visit_withdrawn"):
        send(clinic, visit_payload())

    assert Visit.objects.get(id=visit_id).withdrawn_at == NOW


def test_erasing_a_subject_leaves_nothing_of_it_and_it_cannot_come_back(clinic, visit_payload):
    data = visit_payload()
    data["irrigations"][0]["beats"] = {"time_s": [60.0, 61.0], "spv": [28.0, 28.5]}
    visit_id = send(clinic, data).visit_id
    amend(clinic, visit_id, visit_payload(age_years=61))
    send(clinic, visit_payload(visit_ref="V-OTHER", subject_ref="S-OTHER"))

    removed = subject_erase(clinic=clinic, subject_ref="S-HTKQB", by=TEST_ACTOR, at=NOW)

    assert removed == 1
    for model in (Irrigation, ResponseBeats, VisitResult, RowVersion):
        assert not model.objects.filter(visit_id=visit_id).exists()
    assert list(Subject.objects.values_list("ref", flat=True)) == ["S-OTHER"]
    everything = json.dumps(list(AuditEvent.objects.values("detail", "object_id", "action")))
    assert "S-HTKQB" not in everything
    assert "V-KQMPX" not in everything
    with pytest.raises(VisitConflict, match=r"visit_erased|subject_erased"):
        send(clinic, data)
    with pytest.raises(VisitConflict, match="subject_erased"):
        send(clinic, visit_payload(visit_ref="V-FRESH"))


def test_each_change_notes_the_months_that_changed(clinic, visit_payload):
    send(clinic, visit_payload())

    keys = set(ChangedKey.objects.values_list("subject_of_change", "month"))

    assert {kind for kind, _ in keys} == {"tester", "irrigator"}
    assert {month.isoformat() for _, month in keys} == {"2026-03-01"}


def test_beats_alone_give_a_computed_peak_that_is_the_same_when_read_back(clinic, visit_payload):
    data = visit_payload()
    times = [round(20 + 0.5 * step, 1) for step in range(200)]
    speeds = [round(20.1 + 0.3 * (step % 7), 2) for step in range(200)]
    del data["irrigations"][0]["peak_spv"]
    data["irrigations"][0]["beats"] = {"time_s": times, "spv": speeds}
    visit_id = send(clinic, data).visit_id

    stored = stored_visits(list(Visit.objects.filter(id=visit_id)))[0]
    again = compute_visit(stored.visit)

    row = Irrigation.objects.get(visit_id=visit_id, ear="right", stimulus="warm")
    assert row.peak_basis == "computed_v1"
    assert row.peak_spv == again.responses[0].computed_peak_spv
    result = VisitResult.objects.get(visit_id=visit_id)
    assert result.unilateral_weakness_percent == again.indices.unilateral_weakness_percent


def with_beats(visit_payload, speed, count):
    data = visit_payload()
    data["irrigations"][0].pop("peak_spv")
    data["irrigations"][0]["beats"] = {
        "time_s": [60.0 + place for place in range(count)],
        "spv": [speed] * count,
    }
    return data


@pytest.mark.parametrize(
    ("speed", "count", "reason"), [(20.0, 2, "too_few_beats"), (500.0, 9, "beats_too_fast")]
)
def test_beats_that_give_no_peak_are_stored_and_count_for_nothing(
    clinic, visit_payload, speed, count, reason
):
    send(clinic, with_beats(visit_payload, speed, count))

    stored = Irrigation.objects.get(ear="right", stimulus="warm")
    assert (stored.counted, stored.peak_spv, stored.no_peak_reason) == (False, None, reason)
    assert VisitResult.objects.get().undefined_reason == "missing_irrigation"


def test_a_visit_whose_codes_were_closed_since_can_still_be_withdrawn_and_erased(
    clinic, visit_payload
):
    visit_id = send(clinic, visit_payload()).visit_id
    Tester.objects.filter(code="T-07").update(active_to=date(2026, 2, 1))
    Irrigator.objects.filter(code="IR-2").update(retired_at=date(2026, 2, 1))
    ChangedKey.objects.all().delete()

    visit_withdraw(clinic=clinic, visit_id=visit_id, by=TEST_ACTOR, at=NOW)
    subject_erase(clinic=clinic, subject_ref="S-HTKQB", by=TEST_ACTOR, at=NOW)

    noted = ChangedKey.objects.values_list("subject_of_change", "key_id")
    whose = {("tester", Tester.objects.get(code="T-07").id)}
    assert set(noted) == whose | {("irrigator", Irrigator.objects.get().id)}
    assert Visit.objects.count() == 0
