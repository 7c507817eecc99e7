"""One error shape over every route (RFC 9457), whatever goes wrong."""

from __future__ import annotations

import re
import uuid

import pytest
from rest_framework import exceptions
from rest_framework.test import APIClient

from registry.api.catalogue import DETAIL, PROBLEMS, ROSTER_DETAIL
from registry.api.problems import MEDIA_TYPE
from tests.registry.api.calls import CALLS, OPEN, ROOT, addresses_of_urlconf, an_allowed_role

pytestmark = pytest.mark.django_db
METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")
MEMBERS = {"type", "title", "status", "code", "detail", "request_id"}


def assert_is_a_problem(response, status):
    body = response.json()
    assert response.status_code == status, response.content
    assert response["Content-Type"] == MEDIA_TYPE
    assert set(body) >= MEMBERS
    assert body["status"] == status
    assert (status, body["detail"]) == PROBLEMS[body["code"]]
    for error in body.get("errors", []):
        assert {"pointer", "code", "detail"} <= set(error)
        assert error["detail"] in (DETAIL[error["code"]], ROSTER_DETAIL[error["code"]])


def an_address(pattern):
    return ROOT + re.sub(r"<\w+:\w+>", str(uuid.uuid4()), pattern)


def test_on_every_route_nobody_gets_a_problem(scene):
    for pattern, method in addresses_of_urlconf():
        if (pattern, method) not in OPEN:
            assert_is_a_problem(scene.nobody.generic(method, an_address(pattern)), 401)


def test_on_every_route_a_method_it_does_not_know_gets_a_problem(scene):
    taken: dict[str, set[str]] = {}
    for pattern, method in addresses_of_urlconf():
        taken.setdefault(pattern, set()).add(method)
    for pattern, methods in taken.items():
        for method in set(METHODS) - methods:
            response = scene.clients["coordinator"].generic(method, an_address(pattern))
            assert_is_a_problem(response, 405)
            assert method not in response["Allow"]


def test_on_every_route_of_an_object_an_unknown_id_gets_a_problem(scene):
    patterns = [one for one in addresses_of_urlconf() if "<" in one[0]]
    assert len(patterns) > 10
    for pattern, method in patterns:
        response = scene.clients["coordinator"].generic(
            method,
            an_address(pattern),
            b"{}",
            content_type="application/json",
            headers={"If-Match": '"1"'},
        )
        if response.status_code != 422:
            assert_is_a_problem(response, 404)


def test_on_every_route_with_a_body_another_media_type_gets_a_problem(scene, ids):
    with_body = [call for call in CALLS if call.body]
    assert len(with_body) > 10
    for call in with_body:
        response = scene.clients[an_allowed_role(call)].generic(
            call.method,
            ROOT + call.address.format(**ids),
            b"<a/>",
            content_type="text/xml",
            headers=call.headers,
        )
        assert_is_a_problem(response, 415)


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("address", ["nothing/", "visits/7/", "visits", "../v2/visits/"])
def test_an_address_that_leads_nowhere_gets_a_problem(scene, method, address):
    response = scene.clients["coordinator"].generic(method, ROOT + address)

    assert_is_a_problem(response, 404)


@pytest.mark.parametrize("header", ["Bearer abc.def", "Bearer", "Basic YTpi", "Bearer a b c"])
def test_a_token_that_is_none_gets_a_problem(header):
    response = APIClient().get(f"{ROOT}visits/", headers={"Authorization": header})

    assert_is_a_problem(response, 401)
    assert response.json()["code"] == "token_refused"


def test_a_media_type_that_is_not_answered_gets_a_problem(scene):
    response = scene.clients["coordinator"].get(f"{ROOT}visits/", headers={"Accept": "image/png"})

    assert_is_a_problem(response, 406)


def test_a_host_that_is_not_ours_gets_a_problem():
    response = APIClient().get(f"{ROOT}visits/", headers={"Host": "elsewhere.example"})

    assert_is_a_problem(response, 400)


def test_too_many_requests_get_a_problem_that_says_how_long_to_wait(scene, monkeypatch):
    def refuse(*args, **kwargs):
        raise exceptions.Throttled(wait=7)

    monkeypatch.setattr("registry.api.testers.testers_of", refuse)

    response = scene.clients["coordinator"].get(f"{ROOT}testers/")

    assert_is_a_problem(response, 429)
    assert response["Retry-After"] == "7"


def test_an_error_nobody_foresaw_gets_a_problem_that_tells_nothing(scene, monkeypatch):
    def fail(*args, **kwargs):
        raise RuntimeError("S-HTKQB in the text")

    monkeypatch.setattr("registry.api.testers.testers_of", fail)
    client = scene.clients["coordinator"]
    client.raise_request_exception = False

    response = client.get(f"{ROOT}testers/")

    assert_is_a_problem(response, 500)
    assert b"HTKQB" not in response.content


@pytest.mark.django_db(transaction=True, databases=["default", "owner"])
def test_an_error_nobody_foresaw_takes_back_what_was_written(
    make_clinic, make_member, client_of, monkeypatch
):
    clinic = make_clinic()
    client = client_of(make_member("coordinator", clinic))
    client.raise_request_exception = False

    def fail(tester):
        raise RuntimeError

    monkeypatch.setattr("registry.api.testers.tester_json", fail)

    response = client.post(f"{ROOT}testers/", {"code": "T-30"}, format="json")
    monkeypatch.undo()
    codes = [one["code"] for one in client.get(f"{ROOT}testers/").json()["results"]]

    assert response.status_code == 500
    assert codes == ["T-07", "T-08"]


def test_more_errors_than_anybody_reads_are_counted_instead(scene):
    body = [{"irrigations": [{}]} for _ in range(600)]

    response = scene.clients["coordinator"].post(f"{ROOT}indices/", body, format="json")

    assert_is_a_problem(response, 422)
    assert len(response.json()["errors"]) == 1000
    # Each lacks an ear, a stimulus and a peak.
    assert response.json()["errors_not_shown"] == 600 * 3 - 1000
