"""What the database itself refuses, whatever a view forgets: raw SQL as the application's role."""

from __future__ import annotations

import io
import json

import pytest
from django.apps import apps
from django.db import ProgrammingError, connection, transaction
from psycopg.errors import InsufficientPrivilege

from analytics.models import Snapshot
from registry.access.scope import clinic_scope
from registry.access.tables import (
    APPEND_ONLY,
    NEVER_UPDATED,
    SCOPED,
    SCOPED_TOGETHER,
    SHARED,
    SYSTEM,
)
from registry.intake.erase import subject_erase
from registry.intake.uploads import upload_receive
from registry.models import Irrigator, Tester
from registry.roster.devices import device_create
from registry.roster.events import equipment_event_record
from registry.roster.temperature_checks import temperature_check_record
from tests.analytics.rows import fill_analytics
from tests.conftest import NOW, TEST_ACTOR
from tests.database import owner_connection

pytestmark = pytest.mark.django_db


def ask(statement):
    with connection.cursor() as cursor:
        cursor.execute(statement)
        return cursor.fetchall()


def change(statement):
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
        return cursor.rowcount


@pytest.fixture
def two_clinics(make_clinic, visit_payload):
    """Two clinics with a row in every scoped table."""
    clinics = [make_clinic("CL-A"), make_clinic("CL-B")]
    for clinic in clinics:
        with clinic_scope([clinic.pk], by=TEST_ACTOR):
            fill(clinic, visit_payload)
    return clinics


def fill(clinic, visit_payload):
    data = visit_payload()
    data["irrigations"][0]["beats"] = {"time_s": [60.0, 61.0], "spv": [28.0, 28.5]}
    erased = visit_payload(visit_ref="V-GNBXX", subject_ref="S-GNBXX")
    bad = visit_payload(visit_ref="V-BDBDB", age_years=200)
    content = "\n".join(json.dumps(one) for one in (data, erased, bad)).encode()
    upload_receive(clinic=clinic, stream=io.BytesIO(content), by=TEST_ACTOR, at=NOW)
    subject_erase(clinic=clinic, subject_ref="S-GNBXX", by=TEST_ACTOR, at=NOW)
    device_create(Irrigator, clinic=clinic, data={"code": "IR-7"}, by=TEST_ACTOR, at=NOW)
    check = {
        "irrigator": "IR-2",
        "checked_at": "2026-03-01T08:00:00Z",
        "stimulus": "warm",
        "set_temperature_c": 44.0,
        "reading_c": 44.1,
    }
    temperature_check_record(clinic=clinic, data=check, by=TEST_ACTOR, at=NOW)
    event = {"irrigator": "IR-2", "kind": "calibrated", "happened_at": "2026-03-01T08:00:00Z"}
    equipment_event_record(clinic=clinic, data=event, by=TEST_ACTOR, at=NOW)
    fill_analytics(clinic)


def test_every_model_is_in_exactly_one_list():
    tables = {model._meta.db_table for model in apps.get_models(include_auto_created=True)}
    lists = [*SCOPED, *SCOPED_TOGETHER, *SHARED, *SYSTEM]

    assert tables | {"django_migrations"} == set(lists)
    assert len(lists) == len(set(lists))


@pytest.mark.parametrize("table", [*SCOPED, *SCOPED_TOGETHER])
def test_row_security_is_forced_on_every_scoped_table(table):
    found = ask(
        "SELECT relrowsecurity, relforcerowsecurity,"
        f" (SELECT count(*) FROM pg_policies WHERE tablename = '{table}')"
        f" FROM pg_class WHERE relname = '{table}'"
    )

    assert found[0][:2] == (True, True)
    assert found[0][2] >= 1


@pytest.mark.parametrize("table", SCOPED)
def test_without_a_scope_there_are_no_rows(two_clinics, table):
    assert ask(f"SELECT count(*) FROM {table}") == [(0,)]


@pytest.mark.parametrize("table", SCOPED)
def test_a_scope_shows_its_own_clinic_and_no_other(two_clinics, table):
    clinic, other = two_clinics

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        own = {row[0] for row in ask(f"SELECT DISTINCT clinic_id FROM {table}")}
        others = ask(f"SELECT count(*) FROM {table} WHERE clinic_id = {other.pk}")

    assert own == {clinic.pk}
    assert others == [(0,)]


MAY_BE_UPDATED = [one for one in SCOPED if one not in (*APPEND_ONLY, *NEVER_UPDATED)]


@pytest.mark.parametrize("table", MAY_BE_UPDATED)
def test_another_clinics_rows_can_be_neither_changed_nor_removed_nor_moved(two_clinics, table):
    clinic, other = two_clinics

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        changed = change(f"UPDATE {table} SET clinic_id = clinic_id WHERE clinic_id = {other.pk}")
        removed = change(f"DELETE FROM {table} WHERE clinic_id = {other.pk}")
        with pytest.raises(ProgrammingError, match="row-level security"):
            change(f"UPDATE {table} SET clinic_id = {other.pk}")

    assert (changed, removed) == (0, 0)


def test_a_superseded_version_may_be_erased_and_never_rewritten(two_clinics):
    clinic, other = two_clinics

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        with pytest.raises(ProgrammingError, match="permission denied"):
            change("UPDATE registry_rowversion SET superseded_by = 'nobody'")
        assert change(f"DELETE FROM registry_rowversion WHERE clinic_id = {other.pk}") == 0
        assert change("DELETE FROM registry_rowversion") > 0


def test_a_scope_of_several_clinics_shows_them_all(two_clinics):
    with clinic_scope([clinic.pk for clinic in two_clinics], by=TEST_ACTOR):
        seen = set(Tester.objects.values_list("clinic_id", flat=True))

    assert seen == {clinic.pk for clinic in two_clinics}


def test_a_scope_inside_another_ends_with_its_block(two_clinics):
    clinic, other = two_clinics

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        with clinic_scope([other.pk], by=TEST_ACTOR):
            inside = set(Tester.objects.values_list("clinic_id", flat=True))
        after = set(Tester.objects.values_list("clinic_id", flat=True))

    assert (inside, after) == ({other.pk}, {clinic.pk})
    assert Tester.objects.count() == 0


def test_a_scope_that_ends_in_an_error_leaves_nothing_open(two_clinics):
    class Broken(Exception):
        pass

    with pytest.raises(Broken), clinic_scope([two_clinics[0].pk], by=TEST_ACTOR):
        raise Broken

    assert Tester.objects.count() == 0


@pytest.mark.django_db(transaction=True)
def test_the_next_transaction_of_a_connection_knows_nothing_of_the_last_scope(two_clinics):
    # After the first use the setting is '' and no longer absent: the policy must bear both.
    with clinic_scope([two_clinics[0].pk], by=TEST_ACTOR):
        assert Tester.objects.count() > 0

    assert Tester.objects.count() == 0


def test_the_audit_trail_can_be_added_to_and_never_changed(two_clinics):
    with clinic_scope([two_clinics[0].pk], by=TEST_ACTOR):
        for statement in (
            "UPDATE registry_auditevent SET actor = 'nobody'",
            "DELETE FROM registry_auditevent",
            "TRUNCATE registry_auditevent",
        ):
            with pytest.raises(ProgrammingError, match="permission denied"):
                change(statement)


def test_nobody_who_was_erased_comes_back_by_a_tombstone_changed_or_removed(two_clinics):
    with clinic_scope([two_clinics[0].pk], by=TEST_ACTOR):
        for statement in (
            "UPDATE registry_tombstone SET digest = 'x'",
            "DELETE FROM registry_tombstone",
        ):
            with pytest.raises(ProgrammingError, match="permission denied"):
                change(statement)


def test_not_even_the_owner_changes_the_audit_trail():
    # A statement trigger objects whether or not there is a row.
    with (
        owner_connection() as owner,
        pytest.raises(InsufficientPrivilege, match="append-only"),
    ):
        owner.execute("UPDATE registry_auditevent SET actor = 'nobody'")


@pytest.mark.parametrize("table", ["registry_visit", "registry_visitresult"])
def test_the_application_can_make_no_table_and_switch_no_security_off(table):
    with pytest.raises(ProgrammingError, match="must be owner"):
        change(f"ALTER TABLE {table} DISABLE ROW LEVEL SECURITY")
    with pytest.raises(ProgrammingError, match="permission denied"):
        change("CREATE TABLE public.own (id integer)")


def test_a_figure_of_several_clinics_is_seen_only_by_a_scope_that_holds_all(two_clinics):
    one, other = (clinic.pk for clinic in two_clinics)
    with clinic_scope([one, other], by=TEST_ACTOR):
        for about, clinics in (("both", [one, other]), ("one", [one])):
            Snapshot.objects.create(
                network=two_clinics[0].network,
                clinics=clinics,
                name="network",
                audience="lead",
                about=about,
                content={},
                built_at=NOW,
            )

    def seen(scope):
        with clinic_scope(scope, by=TEST_ACTOR):
            return {row[0] for row in ask("SELECT about FROM analytics_snapshot")}

    assert seen([one, other]) == {"both", "one"}
    assert seen([one]) == {"one"}
    assert seen([other]) == set()
    assert ask("SELECT about FROM analytics_snapshot") == []


def test_a_clinic_cannot_put_a_figure_among_others(two_clinics):
    one, other = (clinic.pk for clinic in two_clinics)

    with (
        clinic_scope([one], by=TEST_ACTOR),
        pytest.raises(ProgrammingError, match="row-level security"),
        transaction.atomic(),
    ):
        Snapshot.objects.create(
            network=two_clinics[0].network,
            clinics=[one, other],
            name="network",
            audience="lead",
            about="",
            content={},
            built_at=NOW,
        )
