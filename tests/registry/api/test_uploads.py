"""Files of visits by the API: three kinds, sent again, refused, undone, purged."""

from __future__ import annotations

import csv
import gzip
import hashlib
import io
import json

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from registry.access.scope import clinic_scope
from registry.models import AuditEvent, Upload, Visit
from tests.conftest import TEST_ACTOR
from tests.registry.api.conftest import CSV_HEADER, CSV_ROW

pytestmark = pytest.mark.django_db
UPLOADS = "/api/v1/uploads/"


def csv_file(*refs):
    return (CSV_HEADER + "".join(CSV_ROW.format(ref) for ref in refs)).encode()


def xlsx_file(*refs):
    book = openpyxl.Workbook()
    sheet = book.active
    for line in csv_file(*refs).decode().splitlines():
        cells = line.split(",")
        sheet.append([float(cell) if cell.replace(".", "").isdigit() else cell for cell in cells])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def send(client, content, **options):
    return client.post(UPLOADS, {"file": SimpleUploadedFile("any.bin", content), **options})


def refs_stored(clinic):
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        return set(Visit.objects.filter(withdrawn_at=None).values_list("visit_ref", flat=True))


@pytest.fixture
def ndjson_file(visit_payload):
    def make(*refs):
        lines = (json.dumps(visit_payload(visit_ref=f"V-{ref}")) for ref in refs)
        return "\n".join(lines).encode()

    return make


@pytest.mark.parametrize("pack", [lambda data: data, gzip.compress], ids=["plain", "gzip"])
@pytest.mark.parametrize("kind", ["csv", "xlsx", "ndjson"])
def test_a_file_of_each_kind_is_taken_in(scene, ndjson_file, kind, pack):
    make = {"csv": csv_file, "xlsx": xlsx_file, "ndjson": ndjson_file}[kind]
    content = pack(make("AAA", "BBB"))
    client = scene.clients["uploader"]

    response = send(client, content)
    upload = client.get(response["Location"]).json()

    assert response.status_code == 202
    assert (upload["state"], upload["visits_created"], upload["visits_refused"]) == (
        "finished",
        2,
        0,
    )
    assert upload["sha256"] == hashlib.sha256(content).hexdigest()
    assert refs_stored(scene.clinic) == {"V-AAA", "V-BBB"}


def test_the_same_file_again_is_the_first_upload(scene):
    client = scene.clients["uploader"]
    first = send(client, csv_file("AAA"))
    before = scene.snapshot()

    again = send(client, csv_file("AAA"))

    assert again.status_code == 200
    assert again.json()["id"] == first.json()["id"]
    assert again["Location"] == first["Location"]
    assert scene.snapshot() == before


def test_the_same_file_at_another_clinic_is_another_upload(scene):
    first = send(scene.clients["uploader"], csv_file("AAA"))

    other = send(scene.others["uploader"], csv_file("AAA"))

    assert other.status_code == 202
    assert other.json()["id"] != first.json()["id"]


def test_bad_rows_are_told_by_row_and_column_and_the_good_ones_kept(scene):
    bad = CSV_ROW.format("BBB").replace("T-07", "T-99")
    client = scene.clients["uploader"]

    upload = send(client, csv_file("AAA") + bad.encode()).json()
    problems = client.get(f"{UPLOADS}{upload['id']}/problems/").json()["results"]

    assert (upload["visits_created"], upload["visits_refused"]) == (1, 1)
    assert refs_stored(scene.clinic) == {"V-AAA"}
    assert [(one["row"], one["column"], one["code"]) for one in problems] == [
        (3, "tester", "unknown_tester")
    ]
    assert problems[0]["detail"]


def test_all_or_nothing_keeps_nothing_of_a_file_with_a_bad_row(scene):
    bad = CSV_ROW.format("BBB").replace("T-07", "T-99")

    upload = send(
        scene.clients["uploader"], csv_file("AAA") + bad.encode(), policy="all_or_nothing"
    ).json()

    assert upload["state"] == "refused"
    assert refs_stored(scene.clinic) == set()


@pytest.mark.parametrize(
    "ask", [{"query_params": {"format": "csv"}}, {"headers": {"Accept": "text/csv"}}]
)
def test_the_problems_come_as_csv_too(scene, ask):
    bad = CSV_ROW.format("BBB").replace("T-07", "T-99")
    client = scene.clients["uploader"]
    upload = send(client, csv_file("AAA") + bad.encode()).json()

    response = client.get(f"{UPLOADS}{upload['id']}/problems/", **ask)

    rows = list(csv.DictReader(io.StringIO(response.content.decode())))
    assert response["Content-Type"] == "text/csv; charset=utf-8"
    assert [(row["row"], row["column"], row["code"]) for row in rows] == [
        ("3", "tester", "unknown_tester")
    ]


def test_an_upload_not_found_as_csv_is_a_problem_too(scene):
    response = scene.clients["uploader"].get(
        f"{UPLOADS}018f0000-0000-7000-8000-000000000000/problems/",
        headers={"Accept": "text/csv"},
    )

    assert response.status_code == 404
    assert response["Content-Type"] == "application/problem+json"


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "file_empty"),
        (csv_file("AAA").replace(b"visit_ref,", b"visit_ref,patient_mary,"), "unknown_column"),
        (b"PK\x03\x04 broken", "not_readable"),
        (b"\x1f\x8b broken", "not_readable"),
    ],
)
def test_a_file_that_cannot_be_taken_leaves_nothing(scene, content, code):
    before = scene.snapshot()

    response = send(scene.clients["uploader"], content)

    assert response.status_code == 422
    assert response.json()["errors"][0]["code"] == code
    assert b"mary" not in response.content
    assert scene.snapshot() == before


def test_a_form_without_a_file_is_refused(scene):
    response = scene.clients["uploader"].post(UPLOADS, {"policy": "keep_valid"})

    assert response.status_code == 422
    assert response.json()["errors"][0]["code"] == "file_needed"


def test_an_unknown_column_is_told_by_its_place(scene):
    content = csv_file("AAA").replace(b"visit_ref,", b"visit_ref,patient_mary,")

    (error,) = send(scene.clients["uploader"], content).json()["errors"]

    assert (error["row"], error["column"]) == (1, 2)


@pytest.mark.parametrize("limit", [10, 64 * 1024])
def test_a_file_over_the_limit_is_413_and_leaves_nothing(scene, settings, limit):
    settings.UPLOAD_MAX_BYTES = limit
    before = scene.snapshot()

    response = send(scene.clients["uploader"], csv_file("AAA") + b" " * 80 * 1024)

    assert response.status_code == 413
    assert response.json()["code"] == "body_too_large"
    assert scene.snapshot() == before


@pytest.mark.parametrize(
    ("options", "pointer", "code"),
    [
        ({"policy": "some"}, "/policy", "not_in_list"),
        ({"create_missing": "yes"}, "/create_missing", "not_true_or_false"),
        ({"comment": "for Mary"}, "", "unknown_field"),
    ],
)
def test_an_option_that_is_none_is_refused(scene, options, pointer, code):
    response = send(scene.clients["coordinator"], csv_file("AAA"), **options)

    (error,) = response.json()["errors"]
    assert response.status_code == 422
    assert (error["pointer"], error["code"]) == (pointer, code)
    assert b"Mary" not in response.content


def test_a_form_that_is_broken_is_400(scene):
    response = scene.clients["uploader"].generic(
        "POST", UPLOADS, b"no boundary", content_type="multipart/form-data"
    )

    assert (response.status_code, response.json()["code"]) == (400, "form_not_readable")


def test_missing_codes_are_added_where_the_coordinator_says_so(scene):
    content = csv_file("AAA").replace(b"T-07", b"T-50")

    upload = send(scene.clients["coordinator"], content, create_missing="true").json()
    testers = scene.clients["coordinator"].get("/api/v1/testers/").json()["results"]

    assert upload["visits_created"] == 1
    assert "T-50" in {one["code"] for one in testers}


def test_an_undone_upload_leaves_no_visit_in_force_and_says_how_many(scene):
    client = scene.clients["coordinator"]
    upload = send(client, csv_file("AAA", "BBB")).json()

    response = client.post(f"{UPLOADS}{upload['id']}/undo/")

    assert response.json() == {"visits_withdrawn": 2}
    assert refs_stored(scene.clinic) == set()
    assert client.get(f"{UPLOADS}{upload['id']}/").json()["undone_at"] is not None


def test_a_purged_upload_is_found_nowhere(scene):
    client = scene.clients["uploader"]
    upload = send(client, csv_file("AAA")).json()

    response = client.post(f"{UPLOADS}{upload['id']}/purge/")

    assert (response.status_code, response.content) == (204, b"")
    assert client.get(f"{UPLOADS}{upload['id']}/").status_code == 404
    with clinic_scope([scene.clinic.pk], by=TEST_ACTOR):
        assert Upload.objects.count() == Visit.objects.count() == 0
        assert AuditEvent.objects.filter(action="upload.purged").count() == 1


def test_the_name_of_a_file_is_nowhere_kept_nor_echoed(scene, caplog):
    caplog.set_level("DEBUG")
    file = SimpleUploadedFile("mary_smith.csv", csv_file("AAA"))

    response = scene.clients["uploader"].post(UPLOADS, {"file": file})

    logged = "".join(f"{record.getMessage()}" for record in caplog.records)
    assert response.status_code == 202
    assert b"smith" not in response.content
    assert "smith" not in logged


def test_an_identifier_in_a_file_is_told_but_never_shown(scene):
    content = csv_file("AAA").replace(b"S-AAA", b"mary.smith")
    client = scene.clients["uploader"]

    upload = send(client, content).json()
    problems = client.get(f"{UPLOADS}{upload['id']}/problems/")

    assert upload["identifiers_found"] is True
    assert problems.json()["results"][0]["code"] == "looks_like_identifier"
    assert b"smith" not in problems.content
