"""Figures made ahead: each role its own, nothing of anybody else's, nothing sent twice."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest

from analytics.models import NetworkState, Snapshot
from registry.access.scope import clinic_scope
from registry.models import ChangedKey
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db


@pytest.fixture
def made(scene, ids, make_clinic, other_tester):
    """A second clinic of the network, and snapshots of every name and audience."""
    second = make_clinic("CL-2", network=scene.clinic.network)
    both = [scene.clinic.pk, second.pk]
    own = [scene.clinic.pk]
    wanted = [
        ("network", "lead", "", both),
        ("retests", "lead", "", both),
        ("measure", "lead", "low_total", both),
        ("measure", "site_lead", "low_total", own),
        ("measure", "site_lead", "low_total", [second.pk]),
        ("tester", "lead", other_tester, own),
        ("tester", "tester", other_tester, own),
        ("irrigator", "lead", ids["irrigator"], own),
        ("clinic", "lead", ids["clinic"], own),
        ("clinic", "lead", str(second.public_id), [second.pk]),
    ]
    with clinic_scope(both, by=TEST_ACTOR):
        for name, audience, about, clinics in wanted:
            Snapshot.objects.create(
                network=scene.clinic.network,
                clinics=clinics,
                name=name,
                audience=audience,
                about=about,
                content={
                    "figures": {"one": {"title": name}},
                    "facts": {"for": audience, "of": clinics},
                },
                built_at=NOW,
                covers_until=NOW.date(),
            )
    return {"second": str(second.public_id), "other": other_tester}


@pytest.fixture
def shown(get, made):
    """The audience that a dashboard answered to a role was made for, or the status."""

    def ask(role, address):
        response = get(role, f"dashboards/{address.format(**made)}")
        if response.status_code != 200:
            return response.status_code
        return response.json()["facts"]["for"]

    return ask


@pytest.mark.parametrize(
    ("address", "tester", "site_lead", "lead"),
    [
        ("network/", 404, 404, "lead"),
        ("retests/", 404, 404, "lead"),
        ("measure/?about=low_total", 404, "site_lead", "lead"),
        ("measure/?about=inverted", 404, 404, 404),
        ("tester/?about={{tester}}", "tester", "lead", "lead"),
        ("tester/?about={other}", 404, "lead", "lead"),
        ("irrigator/?about={{irrigator}}", 404, "lead", "lead"),
        ("clinic/?about={{clinic}}", 404, "lead", "lead"),
        ("clinic/?about={second}", 404, 404, "lead"),
        ("tester/", 404, 404, 404),
        ("none_such/", 404, 404, 404),
    ],
)
def test_each_role_gets_the_dashboard_made_for_it(shown, address, tester, site_lead, lead):
    found = {role: shown(role, address) for role in ("tester", "site_lead", "lead")}

    assert found == {"tester": tester, "site_lead": site_lead, "lead": lead}


@pytest.mark.parametrize("role", ["uploader", "coordinator", "researcher", "operator"])
def test_other_roles_find_no_dashboard(shown, role):
    assert shown(role, "network/") == 404
    assert shown(role, "tester/?about={other}") == 404


def test_people_of_another_network_find_no_dashboard(scene, made):
    for role in ("tester", "site_lead", "lead"):
        response = scene.others[role].get(f"/api/v1/dashboards/tester/?about={made['other']}")
        assert response.status_code == 404


def test_a_site_lead_gets_the_own_clinics_figures_of_a_measure(get, made, scene):
    body = get("site_lead", "dashboards/measure/?about=low_total").json()

    assert body["facts"]["of"] == [scene.clinic.pk]
    assert body["figures"] == {"one": {"title": "measure"}}
    assert (body["name"], body["about"]) == ("measure", "low_total")
    assert body["covers_until"] == NOW.date().isoformat()


@pytest.mark.parametrize(("name", "about"), [("network", ""), ("measure", "low_total")])
def test_a_leads_figures_are_no_site_leads_even_where_the_network_is_one_clinic(
    get, inside, scene, name, about
):
    with inside():
        Snapshot.objects.create(
            network=scene.clinic.network,
            clinics=[scene.clinic.pk],
            name=name,
            audience="lead",
            about=about,
            content={},
            built_at=NOW,
        )

    query = f"?about={about}" if about else ""
    assert get("lead", f"dashboards/{name}/{query}").status_code == 200
    assert get("site_lead", f"dashboards/{name}/{query}").status_code == 404


def test_what_the_reader_has_already_is_not_sent_again(get):
    address = "dashboards/tester/?about={tester}"
    etag = get("tester", address)["ETag"]

    same = get("tester", address, headers={"If-None-Match": f'"x", W/{etag}'})
    anything = get("tester", address, headers={"If-None-Match": "*"})
    other = get("tester", address, headers={"If-None-Match": '"x"'})
    role = get("site_lead", address, headers={"If-None-Match": etag})

    assert [one.status_code for one in (same, anything, other, role)] == [304, 304, 200, 200]
    assert (same.content, same["ETag"]) == (b"", etag)


def test_figures_made_anew_are_sent_again(get, inside):
    address = "dashboards/tester/?about={tester}"
    etag = get("tester", address)["ETag"]
    with inside():
        Snapshot.objects.update(built_at=NOW + timedelta(microseconds=1))

    assert get("tester", address, headers={"If-None-Match": etag}).status_code == 200


def test_figures_are_behind_when_the_networks_data_moved_or_changes_wait(get, inside, scene):
    address = "dashboards/tester/?about={tester}"
    waiting = get("tester", address)
    with inside():
        ChangedKey.objects.all().delete()
    settled = get("tester", address, headers={"If-None-Match": waiting["ETag"]})
    NetworkState.objects.create(
        network=scene.clinic.network, data_changed_at=NOW + timedelta(seconds=1)
    )
    moved = get("tester", address, headers={"If-None-Match": settled["ETag"]})

    assert [one.json()["stale"] for one in (waiting, settled, moved)] == [True, False, True]


@pytest.mark.parametrize("query", ["about=%00", "about=A", "what=x", "about=a1&about=b2"])
def test_a_parameter_that_is_none_is_refused(get, query):
    response = get("lead", f"dashboards/tester/?{query}")

    assert (response.status_code, response.json()["code"]) == (400, "parameter_not_valid")


def test_a_subject_that_is_not_there_is_not_found(get):
    for about in (uuid4(), "no-uuid"):
        assert get("site_lead", f"dashboards/irrigator/?about={about}").status_code == 404
