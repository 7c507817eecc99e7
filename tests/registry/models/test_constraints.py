"""What must be true is a named constraint: each is broken here once, and must say its name."""

from __future__ import annotations

import io
import json

import pytest
from django.db import IntegrityError, connection, transaction

from registry.access.scope import clinic_scope
from registry.intake.uploads import upload_receive
from registry.models import Membership, Tester
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db

NOT_A_NUMBER, ENDLESS = "'NaN'::float8", "'Infinity'::float8"
NOBODY = "'00000000-0000-4000-8000-000000000000'"

# Columns that hold a word of a closed list: (table, column, constraint).
WORDS = [
    ("visit", "sex", "visit_sex_known"),
    ("visit", "visit_kind", "visit_kind_known"),
    ("visit", "medium", "visit_medium_known"),
    ("visit", "protocol_planned", "visit_planned_known"),
    ("visit", "protocol_done", "visit_done_known"),
    ("visit", "incomplete_reason", "visit_incomplete_known"),
    ("visit", "adverse_event", "visit_adverse_event_known"),
    ("visit", "sign_convention", "visit_sign_known"),
    ("visit", "spontaneous_kind", "visit_spontaneous_kind"),
    ("visit", "spontaneous_handling", "visit_spontaneous_handling"),
    ("visit", "otoscopy_right", "visit_otoscopy_right_known"),
    ("visit", "otoscopy_left", "visit_otoscopy_left_known"),
    ("visit", "background_referral_group", "visit_referral_group"),
    ("visit", "background_onset_band", "visit_onset_band_known"),
    ("visit", "background_symptomatic_ear", "visit_symptomatic_ear_known"),
    ("visit", "background_suppressants_48h", "visit_suppressants_known"),
    ("visit", "recording_method", "visit_method_known"),
    ("visit", "recording_eye", "visit_eye_known"),
    ("visit", "recording_vision_denied", "visit_vision_known"),
    ("visit", "recording_alerting", "visit_alerting_known"),
    ("visit", "reported_lower_side", "visit_reported_side_known"),
    ("visit", "reported_preponderance_direction", "visit_reported_direction_known"),
    ("visit", "amendment_reason", "visit_amendment_known"),
    ("visit", "received_via", "visit_received_via_known"),
    ("irrigation", "measured_by", "irrigation_measured_by_known"),
    ("irrigation", "peak_basis", "irrigation_peak_basis_known"),
    ("irrigation", "beat_direction", "irrigation_direction_known"),
    ("irrigation", "vertical_component", "irrigation_vertical_known"),
    ("irrigation", "position", "irrigation_position_known"),
    ("irrigation", "repeat_reason", "irrigation_repeat_reason_known"),
    ("irrigation", "medium", "irrigation_medium_known"),
    ("visitresult", "lower_side", "result_side_known"),
    ("visitresult", "preponderance_direction", "result_direction_known"),
    ("visitresult", "undefined_reason", "result_reason_known"),
    ("tester", "experience_band", "tester_experience_band_known"),
    ("upload", "policy", "upload_policy_known"),
    ("upload", "state", "upload_state_known"),
]

# What to set in a row that is right, and the constraint that must object.
BROKEN = [
    *((table, f"{column} = 'no_such_word'", name) for table, column, name in WORDS),
    ("visit", "age_years = 91", "visit_age_0_to_90"),
    ("visit", "visit_date = '1989-12-31'", "visit_date_from_1990"),
    ("visit", "version = 0", "visit_version_from_1"),
    ("visit", "withdrawn_at = now()", "visit_withdrawn_has_time_and_person"),
    (
        "visit",
        "reported_unilateral_weakness_percent = -1",
        "visit_reported_weakness_a_magnitude",
    ),
    (
        "visit",
        "reported_directional_preponderance_percent = -1",
        "visit_reported_preponderance_a_magnitude",
    ),
    ("visit", f"spontaneous_spv = {NOT_A_NUMBER}", "visit_numbers_finite"),
    ("visit", f"head_elevation_deg = {ENDLESS}", "visit_numbers_finite"),
    ("visit", f"subject_id = {NOBODY}", "visit_subject_exists"),
    ("visit", f"tester_id = {NOBODY}", "visit_tester_exists"),
    ("visit", f"irrigator_id = {NOBODY}", "visit_irrigator_exists"),
    ("visit", f"recorder_id = {NOBODY}", "visit_recorder_exists"),
    ("visit", f"upload_id = {NOBODY}", "visit_upload_exists"),
    ("irrigation", "ear = 'middle'", "irrigation_ear_known"),
    ("irrigation", "stimulus = 'tepid'", "irrigation_stimulus_known"),
    ("irrigation", "attempt = 17", "irrigation_attempt_1_to_16"),
    ("irrigation", "peak_spv = 200.1", "irrigation_peak_within_200"),
    ("irrigation", "set_temperature_c = 37", "irrigation_temperature_fits_stimulus"),
    ("irrigation", "set_temperature_c = NULL", "irrigation_has_set_temperature"),
    ("irrigation", "usable = false", "irrigation_counted_is_usable"),
    (
        "irrigation",
        "fixation_from_s = 110, fixation_to_s = 110",
        "irrigation_fixation_ends_after_start",
    ),
    ("irrigation", f"duration_s = {NOT_A_NUMBER}", "irrigation_numbers_finite"),
    ("irrigation", "unusable_reason = '{bored}'", "irrigation_unusable_reason_known"),
    ("irrigation", f"tester_id = {NOBODY}", "irrigation_tester_exists"),
    ("irrigation", f"irrigator_id = {NOBODY}", "irrigation_irrigator_exists"),
    ("irrigation", f"peak_set_by_id = {NOBODY}", "irrigation_peak_set_by_exists"),
    ("irrigation", f"visit_id = {NOBODY}", "irrigation_visit_exists"),
    ("responsebeats", "spv = spv[1:1]", "beats_equally_long"),
    ("responsebeats", "spv = '{}', time_s = '{}'", "beats_1_to_1000"),
    ("responsebeats", "attempt = 2", "beats_irrigation_exists"),
    ("visitresult", f"total_spv = {NOT_A_NUMBER}", "result_numbers_finite"),
    ("visitresult", "unilateral_weakness_percent = NULL", "result_undefined_has_reason"),
    ("visitresult", "assessment_codes = '{healthy}'", "result_assessments_known"),
    ("visitresult", "finding_codes = '{odd}'", "result_findings_known"),
    ("visitresult", f"visit_id = {NOBODY}", "result_visit_exists"),
    (
        "tester",
        "active_from = '2026-01-02', active_to = '2026-01-01'",
        "tester_ends_after_start",
    ),
    (
        "irrigator",
        "in_service_from = '2026-01-02', retired_at = '2026-01-01'",
        "irrigator_retires_after_start",
    ),
    ("irrigator", "uncertainty_c = -0.1", "irrigator_uncertainty_not_negative"),
    ("irrigator", f"uncertainty_c = {ENDLESS}", "irrigator_numbers_finite"),
    ("upload", "undone_at = now()", "upload_undone_has_time_and_person"),
]


@pytest.fixture
def world(make_clinic, visit_payload):
    """A clinic with one visit that came by file and has beats; the scope is open."""
    clinic = make_clinic()
    data = visit_payload()
    data["irrigations"][0]["beats"] = {"time_s": [60.0, 61.0], "spv": [28.0, 28.5]}
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        content = io.BytesIO(json.dumps(data).encode())
        upload_receive(clinic=clinic, stream=content, by=TEST_ACTOR, at=NOW)
        yield clinic


def run(statement):
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
        return cursor.rowcount


# One row: the right ear's warm response, which is the one with beats.
FIRST = {
    "irrigation": " WHERE ear = 'right' AND stimulus = 'warm'",
    "tester": " WHERE code = 'T-07'",
}


@pytest.mark.parametrize(
    ("table", "change", "constraint"),
    BROKEN,
    ids=[f"{name}-{n}" for n, (_, _, name) in enumerate(BROKEN)],
)
def test_the_constraint_refuses_and_says_its_name(world, table, change, constraint):
    statement = f"UPDATE registry_{table} SET {change}{FIRST.get(table, '')}"
    if table == "irrigation" and change.startswith(("ear", "stimulus", "attempt", "visit_id")):
        # Else the beats under it would object first.
        run("DELETE FROM registry_responsebeats")

    with pytest.raises(IntegrityError) as refused:
        run(statement)

    assert refused.value.__cause__.diag.constraint_name == constraint


def test_the_same_rows_may_be_changed_to_something_right(world):
    # The statements above would prove nothing if they touched no row.
    assert run("UPDATE registry_visit SET sex = 'other'") == 1
    assert run("UPDATE registry_visitresult SET lower_side = 'left'") == 1
    assert run(f"UPDATE registry_irrigation SET usable = true{FIRST['irrigation']}") == 1
    assert run("UPDATE registry_responsebeats SET spv = spv") == 1


def test_two_attempts_of_a_cell_cannot_both_count(world):
    run(
        "CREATE TEMPORARY TABLE twice ON COMMIT DROP AS SELECT * FROM registry_irrigation"
        f"{FIRST['irrigation']}"
    )
    run("UPDATE twice SET attempt = 2")

    with pytest.raises(IntegrityError, match="irrigation_one_counted_per_cell"):
        run("INSERT INTO registry_irrigation SELECT * FROM twice")


def test_the_same_irrigation_twice_is_refused_by_its_key(world):
    with pytest.raises(IntegrityError, match="registry_irrigation_pkey"):
        run(
            "INSERT INTO registry_irrigation SELECT * FROM registry_irrigation"
            f"{FIRST['irrigation']}"
        )


def test_a_visit_cannot_name_a_tester_of_another_clinic(world, make_clinic, visit_payload):
    other = make_clinic("CL-B", network=world.network)
    with clinic_scope([other.pk], by=TEST_ACTOR):
        foreign = Tester.objects.get(code="T-07").id

    with pytest.raises(IntegrityError, match="visit_tester_exists"):
        run(f"UPDATE registry_visit SET tester_id = '{foreign}'")


NETWORK_LEVEL = [
    (
        "INSERT INTO registry_networkagreement (network_id, controller, legal_basis, terms,"
        " contact, in_force_from, in_force_to, recorded_at, recorded_by) SELECT id, 'a', 'b',"
        " 'c', 'd', '2026-01-02', '2026-01-01', now(), 'x' FROM registry_network",
        "agreement_ends_after_it_starts",
    ),
    (
        "INSERT INTO registry_networkagreement (network_id, controller, legal_basis, terms,"
        " contact, in_force_from, recorded_at, recorded_by) SELECT id, '', 'b', 'c', 'd',"
        " '2026-01-02', now(), 'x' FROM registry_network",
        "agreement_is_complete",
    ),
    (
        "INSERT INTO registry_criteriaset (name, version, content, created_at, created_by)"
        " VALUES ('own', 0, '{}', now(), 'x')",
        "criteria_set_version_from_1",
    ),
    (
        "INSERT INTO registry_criteriaset (name, version, content, created_at, created_by)"
        " VALUES ('default', 1, '{}', now(), 'x')",
        "criteria_set_version_once",
    ),
    (
        "INSERT INTO registry_outboxmessage (task, payload, state, attempts, created_at)"
        " VALUES ('t', '{}', 'gone', 0, now())",
        "outbox_state_known",
    ),
    (
        "INSERT INTO registry_outboxmessage (task, payload, state, attempts, created_at)"
        " VALUES ('t', '{}', 'running', 0, now())",
        "outbox_running_has_lease",
    ),
    (
        "INSERT INTO registry_outboxmessage (task, payload, state, attempts, created_at)"
        " VALUES ('t', '{}', 'parked', 0, now())",
        "outbox_parked_has_reason",
    ),
    (
        "INSERT INTO registry_recomputerun (method_version, state, clinics, visits_seen,"
        " visits_changed, summary, started_at, started_by)"
        " VALUES (1, 'finished', '{}', 0, 0, '{}', now(), 'x')",
        "recompute_finished_has_time",
    ),
    (
        "INSERT INTO registry_recomputerun (method_version, state, clinics, visits_seen,"
        " visits_changed, summary, started_at, started_by)"
        " VALUES (1, 'resting', '{}', 0, 0, '{}', now(), 'x')",
        "recompute_state_known",
    ),
    (
        "INSERT INTO registry_changedkey (clinic_id, subject_of_change, key_id, month, changed_at)"
        f" SELECT id, 'visitor', {NOBODY}, '2026-01-01', now() FROM registry_clinic",
        "changed_key_kind_known",
    ),
    (
        "INSERT INTO registry_tombstone (clinic_id, digest, kind, key_number, erased_at)"
        " SELECT id, 'x', 'clinic', 1, now() FROM registry_clinic",
        "tombstone_kind_known",
    ),
    (
        "INSERT INTO registry_uploadproblem (clinic_id, upload_id, number, code)"
        " SELECT clinic_id, id, 1, '' FROM registry_upload",
        "upload_problem_has_code",
    ),
    (
        "INSERT INTO registry_uploadproblem (clinic_id, upload_id, number, code)"
        f" SELECT clinic_id, {NOBODY}, 1, 'required' FROM registry_upload",
        "upload_problem_upload_exists",
    ),
    (
        "INSERT INTO registry_upload (id, clinic_id, state, policy, create_missing, sha256,"
        " size_bytes, rows_total, rows_done, visits_created, visits_unchanged,"
        " visits_conflicting, visits_refused, identifiers_found, received_at, received_by)"
        " SELECT gen_random_uuid(), clinic_id, state, policy, create_missing, sha256, size_bytes,"
        " 0, 0, 0, 0, 0, 0, false, received_at, received_by FROM registry_upload",
        "upload_same_file_once",
    ),
]


@pytest.mark.parametrize(
    ("statement", "constraint"), NETWORK_LEVEL, ids=[name for _, name in NETWORK_LEVEL]
)
def test_a_row_that_is_wrong_from_the_start_is_refused(world, statement, constraint):
    with pytest.raises(IntegrityError) as refused:
        run(statement)

    assert refused.value.__cause__.diag.constraint_name == constraint


MEMBERSHIPS = [
    ("lead", "clinic", None, "membership_place_fits_role"),
    ("uploader", "network", None, "membership_place_fits_role"),
    ("operator", "clinic", None, "membership_place_fits_role"),
    ("tester", "clinic", None, "membership_tester_names_its_code"),
    ("janitor", "clinic", None, "membership_role_known"),
]


@pytest.mark.parametrize(("role", "place", "tester", "constraint"), MEMBERSHIPS)
def test_a_role_is_held_where_it_belongs(world, make_member, role, place, tester, constraint):
    member = make_member("coordinator", world)
    where = {"clinic": world} if place == "clinic" else {"network": world.network}

    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        Membership.objects.create(
            user=member.user, role=role, tester_id=tester, granted_at=NOW, granted_by="x", **where
        )

    # Two constraints forbid an unknown role; either may speak first.
    name = refused.value.__cause__.diag.constraint_name
    assert name == constraint or (role == "janitor" and name == "membership_place_fits_role")


def test_the_same_role_cannot_be_held_twice_at_once(world, make_member):
    member = make_member("coordinator", world)

    with pytest.raises(IntegrityError, match="membership_once_in_force"), transaction.atomic():
        Membership.objects.create(
            user=member.user, role="coordinator", clinic=world, granted_at=NOW, granted_by="x"
        )


def test_one_reading_of_a_moment_is_one_row(world):
    insert = (
        "INSERT INTO registry_temperaturecheck (clinic_id, id, irrigator_id, checked_at, stimulus,"
        " set_temperature_c, reading_c, tolerance_c, within_tolerance, recorded_at, recorded_by)"
        " SELECT clinic_id, gen_random_uuid(), id, '2026-03-01 08:00Z', 'warm', 44, 44.1, 0.5,"
        " true, now(), 'x' FROM registry_irrigator"
    )
    run(insert)

    with pytest.raises(IntegrityError, match="check_once_per_moment"):
        run(insert)
