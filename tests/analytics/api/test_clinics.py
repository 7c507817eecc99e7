"""The clinics within reach."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.django_db


def test_a_lead_lists_the_clinics_of_the_network_and_a_site_lead_the_own(
    get, make_clinic, scene, client_of, make_member
):
    second = make_clinic("CL-0", network=scene.clinic.network)

    codes = {
        role: [one["code"] for one in get(role, "clinics/").json()["results"]]
        for role in ("lead", "site_lead")
    }
    pages = get("lead", "clinics/?page_size=1").json()

    assert codes == {"lead": ["CL-0", "CL-A"], "site_lead": ["CL-A"]}
    assert pages["results"] == [
        {"id": str(second.public_id), "code": "CL-0", "name": "Clinic CL-0"}
    ]
    assert pages["next"] is not None


def test_a_parameter_that_the_list_does_not_know_is_refused(get):
    assert get("lead", "clinics/?code=CL-A").status_code == 400
