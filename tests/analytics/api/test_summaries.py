"""Figures of a tester, irrigator or clinic: to whom, and what is held back from whom.

The limits (the measure's own minimum, three other clinics, eleven visits outside the clinic) are
common practice, no source.
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from analytics.measures import catalogue
from analytics.models import Build, SubjectSummary
from registry.models import ChangedKey, Irrigator
from tests.conftest import NOW

pytestmark = pytest.mark.django_db

MEASURE = "right_left_balance"
MINIMUM = catalogue()[MEASURE].minimum_visits
COMPARED = {
    "n": 100.0,
    "value": 1.5,
    "expected": 0.5,
    "shrunken": 1.0,
    "z_level": 2.0,
    "z_change": {"1": 0.4},
    "smallest_level": 3.0,
    "smallest_change": {"1": 4.0},
    "reason": None,
    "reason_change": None,
    "tier": "worth_a_look",
}


def figures_of(n, *, months=(11.0, 10.0)):
    return {
        "months": ["2026-02-01", "2026-03-01"],
        "visits": [int(one) for one in months],
        "measures": {
            MEASURE: {
                "n": float(n),
                "value": 1.5,
                "low": 1.0,
                "high": 2.0,
                "like_for_like": 1.4,
                "by_month": {"n": list(months), "value": [1.0, 2.0]},
            }
        },
    }


@pytest.fixture
def kept(inside, scene, ids):
    """Write the summary of T-07: figures on ``n`` visits, evaluated among ``clinics`` clinics."""

    def keep(*, n=MINIMUM, clinics=4, figures=None, **fields):
        build = Build.objects.create(
            network=scene.clinic.network,
            covers_until=NOW.date(),
            built_at=NOW,
            scores_version=1,
            engine_version=1,
            testers=1,
            clinics=clinics,
            visits=1,
            tests_made=1,
            parameters={"clinics_by_measure": {MEASURE: clinics}},
        )
        with inside():
            SubjectSummary.objects.update(
                figures=figures_of(n) | (figures or {}),
                compared={MEASURE: COMPARED},
                build_id=build.pk,
                **fields,
            )

    return keep


@pytest.fixture
def measure(get):
    def ask(role):
        measures = get(role, "testers/{tester}/summary/").json()["measures"]
        return next(one for one in measures if one["id"] == MEASURE)

    return ask


def test_a_tester_reads_the_own_figures_and_no_colleagues(get, other_tester):
    own = get("tester", "testers/{tester}/summary/")
    colleague = get("tester", f"testers/{other_tester}/summary/")

    assert own.json()["subject"]["code"] == "T-07"
    assert colleague.status_code == 404


def test_a_site_lead_and_a_lead_read_those_of_every_tester(get, other_tester):
    for role in ("site_lead", "lead"):
        assert get(role, f"testers/{other_tester}/summary/").json()["subject"]["code"] == "T-08"


@pytest.mark.parametrize("role", ["uploader", "coordinator"])
def test_who_sends_visits_knows_the_tester_but_may_not_read_the_figures(get, role):
    response = get(role, "testers/{tester}/summary/")

    assert response.status_code == 403


def test_a_tester_may_not_read_an_irrigators_figures(get):
    assert get("tester", "irrigators/{irrigator}/summary/").status_code == 403
    assert get("tester", "clinics/{clinic}/summary/").status_code == 404


def test_the_measures_come_in_the_order_of_the_catalogue(get):
    for kind in ("tester", "irrigator", "clinic"):
        measures = get("site_lead", f"{kind}s/{{{kind}}}/summary/").json()["measures"]

        assert [one["id"] for one in measures] == [one.id for one in catalogue().of(kind)]


def test_a_subject_without_any_visit_has_no_value_and_says_so(get, other_tester):
    body = get("site_lead", f"testers/{other_tester}/summary/").json()

    assert {(one["n"], one["value"], one["too_few"]) for one in body["measures"]} == {
        (0.0, None, True)
    }
    assert (body["built_at"], body["months"], body["repeats"]) == (None, [], None)


def test_a_value_is_shown_from_the_least_number_of_visits_on(kept, measure):
    kept(n=MINIMUM)

    found = measure("tester")

    assert (found["n"], found["too_few"]) == (MINIMUM, False)
    assert (found["value"], found["low"], found["high"]) == (1.5, 1.0, 2.0)
    assert found["by_month"] == {"n": [11.0, 10.0], "value": [1.0, 2.0]}


def test_one_visit_fewer_gives_no_value_for_the_year_nor_for_a_month(kept, measure):
    kept(n=MINIMUM - 1)

    found = measure("tester")

    assert (found["n"], found["too_few"]) == (MINIMUM - 1, True)
    assert [found[name] for name in ("value", "low", "high", "like_for_like")] == [None] * 4
    assert found["by_month"] == {"n": [11.0, 10.0], "value": [None, None]}


@pytest.mark.parametrize("role", ["tester", "site_lead"])
def test_with_three_other_clinics_a_comparison_is_shown(kept, measure, role):
    kept(clinics=4)

    found = measure(role)["compared"]

    assert found == {name: value for name, value in COMPARED.items() if name not in ("n", "value")}


@pytest.mark.parametrize("role", ["tester", "site_lead"])
def test_with_two_other_clinics_it_is_not_and_says_why(kept, measure, role):
    kept(clinics=3)

    found = measure(role)["compared"]

    assert (found["reason"], found["reason_change"]) == ("too_few_clinics", "too_few_clinics")
    assert [found[name] for name in ("expected", "shrunken", "z_level", "z_change")] == [None] * 4
    assert (found["smallest_level"], found["smallest_change"]) == (None, None)


def test_a_lead_sees_the_comparison_of_a_small_network(kept, measure):
    kept(clinics=2)

    assert measure("lead")["compared"]["expected"] == 0.5


def test_a_month_of_ten_visits_is_not_shown_outside_the_clinic(kept, measure):
    kept()

    assert measure("site_lead")["by_month"]["value"] == [1.0, 2.0]
    assert measure("lead")["by_month"]["value"] == [1.0, None]


def test_a_month_of_many_occasions_in_ten_visits_is_not_shown_outside_the_clinic(kept, measure):
    measures = figures_of(MINIMUM, months=(40.0, 44.0))["measures"]
    kept(figures={"visits": [10, 11], "measures": measures})

    assert measure("site_lead")["by_month"]["value"] == [1.0, 2.0]
    assert measure("lead")["by_month"]["value"] == [None, 2.0]


@pytest.mark.parametrize(("visits", "shown"), [(10, False), (11, True)])
def test_repeats_in_ten_visits_are_not_shown_outside_the_clinic(kept, get, visits, shown):
    kept(figures={"repeats": {"visits": visits}, "digits": {"tenths": {}}, "stand_outs": 1})

    inside = get("site_lead", "testers/{tester}/summary/").json()
    outside = get("lead", "testers/{tester}/summary/").json()

    assert inside["repeats"] == {"visits": visits}
    assert (outside["repeats"] is not None) is shown
    assert (outside["digits"] is not None) is shown
    assert (outside["stand_outs"] is not None) is shown


@pytest.mark.parametrize(("pairs", "shown"), [(10, None), (11, 4.2)])
def test_ten_retests_are_counted_but_not_summed_up_outside_the_clinic(kept, get, pairs, shown):
    retest = {"pairs": pairs, "within_subject_sd": 4.2, "smallest_change": 11.6}
    kept(figures={"retests": {"same_tester": retest, "other_tester": retest}})

    found = get("lead", "testers/{tester}/summary/").json()["retests"]

    assert found["same_tester"]["pairs"] == pairs
    assert found["same_tester"]["within_subject_sd"] == shown


def test_devices_and_strata_come_with_their_codes(kept, get, ids):
    kept(
        figures={
            "irrigators": [{"id": ids["irrigator"], "visits": 30}],
            "recorders": [{"id": ids["recorder"], "visits": 20}],
            "strata": [{"id": "air/fitted", "visits": 30}],
        }
    )

    body = get("tester", "testers/{tester}/summary/").json()

    assert body["irrigators"] == [{"id": ids["irrigator"], "code": "IR-2", "visits": 30}]
    assert body["recorders"] == [{"id": ids["recorder"], "code": "RC-1", "visits": 20}]
    assert body["strata"] == [{"code": "air/fitted", "visits": 30}]
    assert "testers" not in body


def test_a_summary_is_behind_when_its_sums_moved_after_it_was_made(kept, get, inside):
    with inside():
        ChangedKey.objects.all().delete()
    states = []
    for moved in (NOW - timedelta(seconds=1), NOW + timedelta(seconds=1)):
        kept(moved_at=moved, built_at=NOW)
        states.append(get("tester", "testers/{tester}/summary/").json()["stale"])

    assert states == [False, True]


def test_a_summary_is_behind_while_changes_of_its_clinic_wait(get, inside):
    with inside():
        waiting = ChangedKey.objects.count()
    behind = get("tester", "testers/{tester}/summary/").json()["stale"]
    with inside():
        ChangedKey.objects.all().delete()
    settled = get("tester", "testers/{tester}/summary/").json()["stale"]

    assert waiting > 0
    assert (behind, settled) == (True, False)


def test_an_irrigator_counts_its_look_backs(get, inside, scene):
    with inside():
        spare = Irrigator.objects.create(clinic=scene.clinic, code="IR-9", created_at=NOW).id

    used = get("site_lead", "irrigators/{irrigator}/summary/").json()
    unused = get("lead", f"irrigators/{spare}/summary/").json()

    assert (used["look_backs"], unused["look_backs"]) == (1, 0)
    assert (used["subject"]["kind"], used["subject"]["code"]) == ("irrigator", "IR-2")


def test_a_clinic_is_read_by_its_own_site_lead_and_the_networks_lead(get, scene, ids):
    answers = [
        client.get(f"/api/v1/clinics/{ids['clinic']}/summary/").status_code
        for people in (scene.clients, scene.others)
        for client in (people["site_lead"], people["lead"])
    ]

    assert answers == [200, 200, 404, 404]


def test_an_id_of_another_kind_of_subject_is_not_found(get):
    assert get("lead", "irrigators/{tester}/summary/").status_code == 404
    assert get("lead", "testers/{clinic}/summary/").status_code == 404
    assert get("site_lead", "clinics/{tester}/summary/").status_code == 404


def test_a_parameter_that_a_summary_does_not_know_is_refused(get):
    response = get("tester", "testers/{tester}/summary/?month=2026-03")

    assert (response.status_code, response.json()["code"]) == (400, "parameter_not_valid")
