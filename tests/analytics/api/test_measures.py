"""The catalogue as it is answered, against the files it is made of."""

from __future__ import annotations

import tomllib

import pytest

from analytics.measures.catalogue import FOLDER
from registry.access.roles import ROLES

pytestmark = pytest.mark.django_db


def test_every_field_of_every_file_is_answered_to_a_researcher(get):
    answered = {one["id"]: one for one in get("researcher", "measures/").json()["results"]}

    files = [tomllib.loads(path.read_text()) for path in FOLDER.glob("*.toml")]
    assert len(answered) == len(files)
    for written in files:
        days = {name: written[name].isoformat() for name in ("reviewed_on", "review_by")}
        assert written | days == {name: answered[written["id"]][name] for name in written}


def test_every_role_reads_the_same_catalogue(get):
    bodies = {get(role, "measures/").content for role in ROLES}

    assert len(bodies) == 1


def test_a_parameter_that_the_catalogue_does_not_know_is_refused(get):
    response = get("lead", "measures/?group=work")

    assert (response.status_code, response.json()["code"]) == (400, "parameter_not_valid")
