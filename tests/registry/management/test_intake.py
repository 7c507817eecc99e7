"""A file of visits from the command line."""

from __future__ import annotations

import csv
import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from registry.access.scope import clinic_scope
from registry.models import Visit
from tests.conftest import TEST_ACTOR

pytestmark = pytest.mark.django_db


def run(*arguments) -> str:
    said = StringIO()
    call_command("intake", *map(str, arguments), stdout=said)
    return said.getvalue()


@pytest.fixture
def file(tmp_path, visit_payload):
    path = tmp_path / "visits.ndjson"
    good, bad = visit_payload(), visit_payload(visit_ref="V-WRNGG", age_years=130)
    path.write_text(f"{json.dumps(good)}\n{json.dumps(bad)}\n")
    return path


def count(clinic):
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        return Visit.objects.count()


def test_it_loads_the_good_rows_and_tells_of_the_others(make_clinic, file):
    clinic = make_clinic()

    said = run(file, "--clinic", clinic.code)

    assert "visits created 1" in said
    assert "row 2, /age_years: out_of_range" in said
    assert count(clinic) == 1


def test_all_or_nothing_loads_nothing(make_clinic, file):
    clinic = make_clinic()

    said = run(file, "--clinic", clinic.code, "--policy", "all_or_nothing")

    assert "state refused" in said
    assert count(clinic) == 0


def test_the_problems_can_be_had_as_a_table(make_clinic, file, tmp_path):
    clinic = make_clinic()
    table = tmp_path / "problems.csv"

    run(file, "--clinic", clinic.code, "--problems", table)

    rows = list(csv.DictReader(StringIO(table.read_text())))
    assert [(row["row"], row["column"], row["code"]) for row in rows] == [
        ("2", "/age_years", "out_of_range")
    ]
    assert rows[0]["detail"]


def test_the_same_file_again_says_so(make_clinic, file):
    clinic = make_clinic()
    run(file, "--clinic", clinic.code)

    assert "came before" in run(file, "--clinic", clinic.code)


def test_a_clinic_that_is_not_there_and_a_file_that_is_not_there(make_clinic, file, tmp_path):
    clinic = make_clinic()

    with pytest.raises(CommandError, match="no clinic"):
        run(file, "--clinic", "CL-ZZ")
    with pytest.raises(CommandError, match="cannot be read"):
        run(tmp_path / "nothing.csv", "--clinic", clinic.code)


def test_a_file_that_is_refused_as_a_whole_says_where_and_why(make_clinic, tmp_path):
    clinic = make_clinic()
    path = tmp_path / "visits.csv"
    path.write_text("visit_ref,who\nV-KQMPX,someone\n")

    with pytest.raises(CommandError, match=r"unknown_column.* column 2") as refused:
        run(path, "--clinic", clinic.code)

    assert "someone" not in str(refused.value)
    assert "who" not in str(refused.value).split(":")[0]
