"""A network's own criteria, a clinic's own procedure and usual values."""

from __future__ import annotations

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from registry.access.scope import clinic_scope
from registry.caloric.stored import SettingsInvalid
from registry.intake.submit import VisitRefused, visit_submit
from registry.models import CriteriaSet, Irrigation, Visit, VisitResult
from registry.roster.clinic_settings import (
    CriteriaVersionTaken,
    clinic_change_settings,
    network_use_criteria,
)
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db

# 20 and 25 % are both in use: Murnane et al., Ear Hear 2009;30.
TWENTY = {
    "name": "north",
    "version": 1,
    "limits": [
        {
            "code": "unilateral_weakness",
            "value": 20.0,
            "inclusive": False,
            "source": "Murnane et al., Ear Hear 2009;30",
            "source_mark": "published",
        }
    ],
}


@pytest.fixture
def clinic(make_clinic):
    clinic = make_clinic()
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        yield clinic


def set_defaults(clinic, defaults):
    clinic_change_settings(
        clinic=clinic, procedure=None, visit_defaults=defaults, by=TEST_ACTOR, at=NOW
    )


def send(clinic, data):
    return visit_submit(clinic=clinic, data=data, by=TEST_ACTOR, at=NOW, via="api")


def test_a_networks_own_set_is_used_and_every_assessment_says_so(clinic, visit_payload):
    network_use_criteria(network=clinic.network, body=TWENTY, by=TEST_ACTOR, at=NOW)

    send(clinic, visit_payload())  # 23.1 %

    result = VisitResult.objects.select_related("criteria_set").get()
    assert (result.criteria_set.name, result.criteria_set.version) == ("north", 1)
    weakness = next(one for one in result.assessments if one["code"] == "unilateral_weakness")
    assert weakness["limit"] == 20.0


def test_a_set_is_never_edited_a_change_is_a_new_version(clinic):
    network_use_criteria(network=clinic.network, body=TWENTY, by=TEST_ACTOR, at=NOW)

    with pytest.raises(CriteriaVersionTaken):
        network_use_criteria(network=clinic.network, body=TWENTY, by=TEST_ACTOR, at=NOW)
    second = network_use_criteria(
        network=clinic.network, body=TWENTY | {"version": 2}, by=TEST_ACTOR, at=NOW
    )

    assert clinic.network.criteria_set == second
    assert CriteriaSet.objects.filter(network=clinic.network).count() == 2


def test_a_usual_value_is_filled_in_and_marked(clinic, visit_payload):
    set_defaults(clinic, {"head_elevation_deg": 30, "irrigations.duration_s": 30})

    visit_id = send(clinic, visit_payload()).visit_id

    visit = Visit.objects.get(id=visit_id)
    assert visit.head_elevation_deg == 30
    assert "/head_elevation_deg" in visit.from_clinic_default
    assert "/irrigations/3/duration_s" in visit.from_clinic_default
    assert set(Irrigation.objects.values_list("duration_s", flat=True)) == {30}


def test_a_usual_set_temperature_makes_the_field_no_longer_needed(clinic, visit_payload):
    data = visit_payload()
    for one in data["irrigations"]:
        del one["set_temperature_c"]
    with pytest.raises(VisitRefused):
        send(clinic, data)

    set_defaults(
        clinic,
        {"irrigations.warm.set_temperature_c": 44, "irrigations.cool.set_temperature_c": 30},
    )

    assert send(clinic, data).created


@pytest.mark.parametrize(
    ("defaults", "code"),
    [
        ({"irrigations.peak_spv": 20}, "may_not_have_default"),
        ({"sex": "female"}, "may_not_have_default"),
        ({"colour": "green"}, "may_not_have_default"),
        ({"head_elevation_deg": "high"}, "not_a_number"),
        ({"irrigations.warm.set_temperature_c": 30}, "temperature_contradicts_stimulus"),
    ],
)
def test_a_default_that_no_visit_could_have_is_refused(clinic, defaults, code):
    with pytest.raises(SettingsInvalid) as invalid:
        set_defaults(clinic, defaults)

    assert code in {fault.code for fault in invalid.value.faults}
    clinic.refresh_from_db()
    assert clinic.visit_defaults == {}


def test_a_clinics_own_rest_changes_what_is_short(clinic, visit_payload):
    def rested(minutes, ref):
        data = visit_payload(visit_ref=ref)
        for number, one in enumerate(data["irrigations"]):
            one["started_at"] = f"2026-03-02T09:{number * minutes:02d}:00Z"
            one["duration_s"] = 30
        return data

    clinic_change_settings(
        clinic=clinic, procedure={"rest_s": 420}, visit_defaults=None, by=TEST_ACTOR, at=NOW
    )
    six = send(clinic, rested(6, "V-SXSXS")).visit_id
    eight = send(clinic, rested(8, "V-GHTGH")).visit_id

    assert "short_rest" in VisitResult.objects.get(visit_id=six).finding_codes
    assert "short_rest" not in VisitResult.objects.get(visit_id=eight).finding_codes


def test_the_command_reads_files_and_says_what_is_wrong(clinic, tmp_path):
    file = tmp_path / "settings.json"

    def run(*arguments):
        call_command("change_settings", *map(str, arguments), stdout=StringIO())

    file.write_text(json.dumps({"rest_s": -1}))
    with pytest.raises(CommandError, match="below_zero"):
        run("--clinic", clinic.code, "--procedure", file)
    file.write_text("{")
    with pytest.raises(CommandError, match="not a JSON file"):
        run("--clinic", clinic.code, "--procedure", file)
    file.write_text(json.dumps(TWENTY))
    run("--network", clinic.network.code, "--criteria", file)

    clinic.network.refresh_from_db()
    assert clinic.network.criteria_set.name == "north"
