"""Visits by the API: sent, sent again, contradicted, corrected, withdrawn."""

from __future__ import annotations

import base64
import json

import pytest

from registry.access.scope import clinic_scope
from registry.models import AuditEvent, Subject, Visit
from tests.conftest import TEST_ACTOR

pytestmark = pytest.mark.django_db
VISITS = "/api/v1/visits/"


def test_a_new_visit_is_stored_and_answered_whole(scene, visit_payload):
    response = scene.clients["uploader"].post(VISITS, visit_payload(), format="json")

    body = response.json()
    assert response.status_code == 201
    assert response["Location"] == f"{VISITS}{body['id']}/"
    assert response["ETag"] == '"1"'
    # Jongkees et al. 1962: the totals of the right ear against those of the left, over their sum:
    # ((28.4 + 19.6) - (17.2 + 12.8)) / 78 = 23.08 %.
    assert body["indices"]["unilateral_weakness_percent"] == pytest.approx(100 * 18 / 78)
    assert body["indices"]["lower_side"] == "left"
    assert body["visit_ref"] == "V-KQMPX"
    with clinic_scope([scene.clinic.pk], by=TEST_ACTOR):
        assert Visit.objects.get().visit_ref == "V-KQMPX"


def test_the_same_visit_again_is_200_and_stores_nothing_more(scene, visit_payload):
    client = scene.clients["uploader"]
    first = client.post(VISITS, visit_payload(), format="json")
    before = scene.snapshot()

    again = client.post(VISITS, visit_payload(), format="json")

    assert again.status_code == 200
    assert again.json() == first.json()
    assert scene.snapshot() == before


def test_the_same_reference_with_other_content_is_a_conflict(scene, visit_payload):
    client = scene.clients["uploader"]
    first = client.post(VISITS, visit_payload(), format="json").json()
    before = scene.snapshot()

    response = client.post(VISITS, visit_payload(age_years=55), format="json")

    assert response.status_code == 409
    assert response.json()["code"] == "visit_changed"
    assert response.json()["visit_id"] == first["id"]
    assert scene.snapshot() == before


def test_the_same_reference_at_another_clinic_is_no_conflict(scene, visit_payload):
    scene.clients["uploader"].post(VISITS, visit_payload(), format="json")

    response = scene.others["uploader"].post(VISITS, visit_payload(age_years=55), format="json")

    assert response.status_code == 201


def test_every_fault_is_told_at_once_with_its_place(scene, visit_payload):
    payload = visit_payload(age_years=200, medium="lava", tester="T-99")
    payload["irrigations"][2]["peak_spv"] = "31.2"
    before = scene.snapshot()

    response = scene.clients["uploader"].post(VISITS, payload, format="json")

    faults = {(one["pointer"], one["code"]) for one in response.json()["errors"]}
    assert response.status_code == 422
    assert faults == {
        ("/age_years", "out_of_range"),
        ("/medium", "not_in_list"),
        ("/tester", "unknown_tester"),
        ("/irrigations/2/peak_spv", "not_a_number"),
    }
    assert all(one["detail"] for one in response.json()["errors"])
    assert scene.snapshot() == before


def test_an_unknown_field_is_told_by_its_position_and_not_echoed(scene, visit_payload):
    payload = visit_payload() | {"patient_name_mary": "Mary Smith"}

    response = scene.clients["uploader"].post(VISITS, payload, format="json")

    (error,) = response.json()["errors"]
    assert response.status_code == 422
    assert (error["pointer"], error["code"]) == ("", "unknown_field")
    assert error["position"] == len(payload)
    assert b"mary" not in response.content.lower()


@pytest.mark.parametrize("field", ["visit_ref", "subject_ref", "tester", "irrigator"])
def test_an_identifier_is_neither_stored_echoed_nor_logged(scene, visit_payload, caplog, field):
    caplog.set_level("DEBUG")
    before = scene.snapshot()

    response = scene.clients["uploader"].post(
        VISITS, visit_payload(**{field: "mary.smith-1971"}), format="json"
    )

    assert response.status_code == 422
    assert (f"/{field}", "looks_like_identifier") in {
        (one["pointer"], one["code"]) for one in response.json()["errors"]
    }
    assert b"smith" not in response.content.lower()
    logged = "".join(f"{record.getMessage()} {record.__dict__}" for record in caplog.records)
    assert "smith" not in logged.lower()
    assert scene.snapshot() == before


@pytest.mark.parametrize(
    ("body", "code"),
    [
        (b'{"visit_ref": NaN}', "not_finite"),
        (b'{"visit_ref": -Infinity}', "not_finite"),
        (b'{"age_years": 1, "age_years": 2}', "duplicate_key"),
        (b'{"visit_ref": "V-1"', "not_json"),
        (b"\xff\xfe", "not_utf8"),
        (b'{"age_years": 1e999}', "number_too_large"),
        (b"[" * 40 + b"]" * 40, "too_deep"),
        (b"", "body_missing"),
    ],
)
def test_a_body_that_is_not_strict_json_is_400(scene, body, code):
    before = scene.snapshot()

    response = scene.clients["uploader"].generic(
        "POST", VISITS, body, content_type="application/json"
    )

    assert response.status_code == 400
    assert response.json()["code"] == code
    assert scene.snapshot() == before


def test_a_list_is_no_visit(scene):
    response = scene.clients["uploader"].post(VISITS, [], format="json")

    assert response.status_code == 422
    assert response.json()["errors"][0]["code"] == "not_an_object"


def test_a_body_over_the_limit_is_413(scene, visit_payload, settings):
    settings.JSON_MAX_BYTES = 200

    response = scene.clients["uploader"].post(VISITS, visit_payload(), format="json")

    assert response.status_code == 413
    assert response.json()["code"] == "body_too_large"


def test_without_an_agreement_nothing_is_accepted(
    scene, make_network, make_clinic, make_member, client_of, visit_payload
):
    clinic = make_clinic("CL-C", network=make_network("NW-C", agreement=False))
    client = client_of(make_member("uploader", clinic))

    response = client.post(VISITS, visit_payload(), format="json")

    assert response.status_code == 403
    assert response.json()["code"] == "no_agreement_in_force"
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        assert Visit.objects.count() == Subject.objects.count() == 0


def test_a_correction_needs_the_version_it_was_made_to(scene, sent_visit, visit_payload):
    visit = sent_visit()
    before = scene.snapshot()

    response = scene.clients["coordinator"].put(
        f"{VISITS}{visit['id']}/",
        visit_payload(age_years=55) | {"amendment_reason": "entry_error"},
        format="json",
    )

    assert response.status_code == 428
    assert response.json()["code"] == "version_needed"
    assert scene.snapshot() == before


@pytest.mark.parametrize("tag", ['"2"', 'W/"1"', "1", '"x"'])
def test_a_correction_to_another_version_is_412(scene, sent_visit, visit_payload, tag):
    visit = sent_visit()
    before = scene.snapshot()

    response = scene.clients["coordinator"].put(
        f"{VISITS}{visit['id']}/",
        visit_payload(age_years=55) | {"amendment_reason": "entry_error"},
        format="json",
        headers={"If-Match": tag},
    )

    assert response.status_code == 412
    assert scene.snapshot() == before


def test_a_correction_makes_a_new_version_and_keeps_the_old(scene, sent_visit, visit_payload):
    visit = sent_visit()
    client = scene.clients["coordinator"]

    response = client.put(
        f"{VISITS}{visit['id']}/",
        visit_payload(age_years=55) | {"amendment_reason": "entry_error"},
        format="json",
        headers={"If-Match": '"1"'},
    )
    versions = client.get(f"{VISITS}{visit['id']}/versions/").json()["results"]

    assert response.status_code == 200
    assert response["ETag"] == '"2"'
    assert (response.json()["age_years"], response.json()["version"]) == (55, 2)
    assert client.get(f"{VISITS}{visit['id']}/")["ETag"] == '"2"'
    assert [one["visit"]["age_years"] for one in versions][-1] == 54


# Versions are told apart by their transactions, so here each call needs one of its own.
@pytest.mark.django_db(transaction=True)
def test_every_earlier_version_is_whole(scene, sent_visit, visit_payload):
    visit = sent_visit()
    client, address = scene.clients["coordinator"], f"{VISITS}{visit['id']}/"
    corrected = visit_payload(age_years=55) | {"amendment_reason": "entry_error"}
    corrected["irrigations"] = corrected["irrigations"][:2]
    client.put(address, corrected, format="json", headers={"If-Match": '"1"'})
    client.post(f"{address}withdraw/")

    versions = client.get(f"{address}versions/").json()["results"]

    assert [one["version"] for one in versions] == [2, 1]
    assert [one["visit"]["age_years"] for one in versions] == [55, 54]
    assert [len(one["irrigations"]) for one in versions] == [2, 4]
    reasons = [one["result"]["undefined_reason"] for one in versions]
    assert reasons == ["monothermal", None]


@pytest.mark.parametrize("reason", ["because", None, 3])
def test_a_correction_needs_a_reason_of_the_list(scene, sent_visit, visit_payload, reason):
    visit = sent_visit()

    response = scene.clients["coordinator"].put(
        f"{VISITS}{visit['id']}/",
        visit_payload(age_years=55) | {"amendment_reason": reason},
        format="json",
        headers={"If-Match": '"1"'},
    )

    assert response.status_code == 422
    assert response.json()["errors"][0]["pointer"] == "/amendment_reason"


def test_a_withdrawn_visit_stays_readable_and_cannot_be_sent_again(
    scene, sent_visit, visit_payload
):
    visit = sent_visit()
    client = scene.clients["coordinator"]

    response = client.post(f"{VISITS}{visit['id']}/withdraw/")
    again = client.post(VISITS, visit_payload(), format="json")

    assert response.status_code == 200
    assert response.json()["withdrawn_at"] is not None
    assert (again.status_code, again.json()["code"]) == (409, "visit_withdrawn")


def test_a_visit_withdrawn_twice_is_withdrawn_once(scene, sent_visit):
    visit = sent_visit()
    client = scene.clients["coordinator"]
    first = client.post(f"{VISITS}{visit['id']}/withdraw/").json()
    before = scene.snapshot()

    second = client.post(f"{VISITS}{visit['id']}/withdraw/")

    assert second.status_code == 200
    assert second.json() == first
    assert scene.snapshot() == before


def test_a_lead_reads_the_reduced_view(scene, sent_visit):
    visit = sent_visit()

    body = scene.clients["lead"].get(f"{VISITS}{visit['id']}/").json()

    hidden = {"visit_ref", "subject_ref", "visit_date", "age_years"}
    assert hidden.isdisjoint(body)
    assert (body["visit_month"], body["age_band"]) == ("2026-03", "50-54")
    assert body["indices"] == visit["indices"]
    assert "V-KQMPX" not in str(body)


def test_a_tester_sees_own_visits_only(scene, sent_visit):
    mine = sent_visit()
    others = sent_visit(visit_ref="V-KQMPZ", tester="T-08")
    client = scene.clients["tester"]

    listed = client.get(VISITS).json()["results"]

    assert [one["id"] for one in listed] == [mine["id"]]
    assert client.get(f"{VISITS}{mine['id']}/").status_code == 200
    assert client.get(f"{VISITS}{others['id']}/").status_code == 404


def test_a_visit_leaves_an_audit_event_of_who_sent_it(scene, sent_visit):
    visit = sent_visit()

    with clinic_scope([scene.clinic.pk], by=TEST_ACTOR):
        event = AuditEvent.objects.get(object_id=visit["id"])
    assert (event.action, event.role) == ("visit.created", "coordinator")


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("tester=T-07", {"V-AAA"}),
        ("tester=T-08", {"V-BBB"}),
        ("irrigator=IR-2", {"V-AAA", "V-BBB"}),
        ("medium=air", {"V-BBB"}),
        ("from=2026-03-02", {"V-AAA"}),
        ("to=2026-03-01", {"V-BBB"}),
        ("clinic=CL-A", {"V-AAA", "V-BBB"}),
        ("clinic=CL-B", set()),
        ("withdrawn=false", {"V-AAA", "V-BBB"}),
        ("withdrawn=true", set()),
        ("assessment=unilateral_weakness&medium=air", set()),
        ("finding=no_current_temperature_check", {"V-AAA", "V-BBB"}),
    ],
)
def test_the_list_is_narrowed_by_its_filters(scene, sent_visit, query, found):
    sent_visit(visit_ref="V-AAA", visit_date="2026-03-02")
    sent_visit(
        visit_ref="V-BBB",
        visit_date="2026-03-01",
        tester="T-08",
        medium="air",
        peaks=(20.0, 20.0, 20.0, 20.0),
    )

    listed = scene.clients["coordinator"].get(f"{VISITS}?{query}").json()["results"]

    assert {one["visit_ref"] for one in listed} == found


@pytest.mark.parametrize(
    ("query", "code"),
    [
        ("tester=mary.smith", "looks_like_identifier"),
        ("medium=lava", "not_in_list"),
        ("from=02/03/2026", "not_a_date"),
        ("withdrawn=yes", "not_true_or_false"),
        ("testr=T-07", "unknown_parameter"),
        ("medium=air&medium=water_open", "parameter_repeated"),
        ("page_size=0", "out_of_range"),
        ("page_size=1001", "out_of_range"),
        ("page_size=ten", "out_of_range"),
    ],
)
def test_a_parameter_that_is_none_is_400_and_not_echoed(scene, query, code):
    response = scene.clients["coordinator"].get(f"{VISITS}?{query}")

    assert response.status_code == 400
    assert response.json()["errors"][0]["code"] == code
    assert b"smith" not in response.content
    assert b"testr" not in response.content


def test_head_answers_the_headers_of_get_without_a_body(scene, sent_visit):
    visit = sent_visit()

    response = scene.clients["coordinator"].head(f"{VISITS}{visit['id']}/")

    assert (response.status_code, response["ETag"]) == (200, '"1"')
    assert response.content == b""


def test_options_says_the_methods_and_nothing_else(scene):
    response = scene.clients["coordinator"].options(VISITS)

    assert (response.status_code, response.content) == (204, b"")
    assert response["Allow"] == "GET, POST, HEAD, OPTIONS"


def test_no_link_or_filter_tells_a_lead_the_day_of_a_visit(scene, visit_payload):
    days = ("2026-02-27", "2026-03-02", "2026-03-09")
    for number, day in enumerate(days):
        sent = visit_payload(visit_ref=f"V-DAYS{'BCD'[number]}", visit_date=day)
        assert scene.clients["coordinator"].post(VISITS, sent, format="json").status_code == 201
    lead = scene.clients["lead"]

    seen, address = [], f"{VISITS}?page_size=1"
    while address:
        page = lead.get(address).json()
        seen += [one["visit_month"] for one in page["results"]]
        for link in filter(None, (page["next"], page["previous"])):
            cursor = link.partition("cursor=")[2].partition("&")[0]
            text = base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4)).decode()
            assert not any(day in text for day in days)
        address = page["next"]
    one_day = lead.get(VISITS, {"from": "2026-03-09", "to": "2026-03-09"}).json()["results"]
    own = scene.clients["coordinator"].get(VISITS, {"from": "2026-03-09", "to": "2026-03-09"})

    assert seen == ["2026-03", "2026-03", "2026-02"]
    assert [one["visit_month"] for one in one_day] == ["2026-03", "2026-03"]
    assert len(own.json()["results"]) == 1


def test_a_lead_cannot_continue_from_a_row_that_is_not_the_networks(scene):
    text = json.dumps([0, "018f0000-0000-4000-8000-000000000000"]).encode()
    cursor = base64.urlsafe_b64encode(text).decode().rstrip("=")

    response = scene.clients["lead"].get(VISITS, {"cursor": cursor})

    assert (response.status_code, response.json()["code"]) == (400, "cursor_not_valid")
