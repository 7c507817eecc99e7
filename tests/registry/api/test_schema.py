"""The OpenAPI document: valid, committed, and true to what is answered."""

from __future__ import annotations

import re
from pathlib import Path

import jsonschema
import pytest
import yaml
from django.core.management import call_command
from openapi_spec_validator import OpenAPIV31SpecValidator

from registry.api.schema import document
from tests.registry.api.calls import (
    CALLS,
    ROOT,
    addresses_of_urlconf,
    an_allowed_role,
    patterns_of_urlconf,
    shape_of,
)

pytestmark = pytest.mark.django_db
COMMITTED = Path(__file__).parents[3] / "docs" / "openapi.yaml"


def test_the_document_is_valid_openapi():
    OpenAPIV31SpecValidator(document()).validate()


def test_the_document_is_made_without_a_warning_and_is_the_committed_one(tmp_path):
    made = tmp_path / "openapi.yaml"

    call_command("spectacular", file=str(made), validate=True, fail_on_warn=True)

    # After a change on purpose: manage.py spectacular --file docs/openapi.yaml
    assert made.read_text() == COMMITTED.read_text()


def test_every_operation_of_the_urlconf_is_described():
    described = {
        (shape_of(address), method.upper())
        for address, methods in document()["paths"].items()
        for method in methods
    }
    known = {(ROOT + shape_of(address), method) for address, method in addresses_of_urlconf()}

    assert described == known


def test_operation_ids_are_those_of_the_calls():
    ids = {
        one["operationId"] for methods in document()["paths"].values() for one in methods.values()
    }

    assert ids == {call.name for call in CALLS} | {"schema_get", "docs_get"}


def test_every_answer_is_as_described(scene, ids):
    for call in CALLS:
        if call.success == 204 or call.name in ("upload_undo", "upload_purge", "subject_erase"):
            continue
        response = call.send(scene.clients[an_allowed_role(call)], ids)
        assert response.status_code in (200, 201, 202), (call.name, response.content)
        schema = answer_schema(call, response.status_code)
        jsonschema.Draft202012Validator(schema).validate(response.json())


def answer_schema(call, status):
    """The schema of an answer, with the components it leads to."""
    (one,) = (
        one
        for methods in document()["paths"].values()
        for one in methods.values()
        if one["operationId"] == call.name
    )
    schema = one["responses"][str(status)]["content"]["application/json"]["schema"]
    return schema | {"components": document()["components"]}


def test_a_visit_as_a_test_sends_it_is_one_as_described(visit_payload):
    schema = {"$ref": "#/components/schemas/VisitSent", "components": document()["components"]}
    validator = jsonschema.Draft202012Validator(schema)

    assert validator.is_valid(visit_payload())
    assert not validator.is_valid(visit_payload(medium="lava"))
    assert not validator.is_valid(visit_payload(patient="x"))


@pytest.mark.parametrize(
    ("accept", "media_type"),
    [
        ("*/*", "application/json"),
        ("application/vnd.oai.openapi+json", "application/vnd.oai.openapi+json"),
        ("application/vnd.oai.openapi", "application/vnd.oai.openapi"),
    ],
)
def test_the_document_is_open_to_anybody(client, accept, media_type):
    response = client.get(f"{ROOT}schema/", headers={"Accept": accept})

    assert response.status_code == 200
    assert response["Content-Type"].startswith(media_type)
    assert yaml.safe_load(response.content)["openapi"].startswith("3.1")


def test_the_page_describes_every_operation_and_loads_nothing_from_elsewhere(client):
    page = client.get(f"{ROOT}docs/")

    text = page.content.decode()
    nonce = re.search(r'<style nonce="([^"]+)">', text)
    assert page.status_code == 200
    assert page["Content-Type"].startswith("text/html")
    assert nonce is not None
    assert f"'nonce-{nonce[1]}'" in page["Content-Security-Policy"]
    assert all(f'id="{call.name}"' in text for call in CALLS)
    # An empty icon of its own, or the browser would ask for one that is not there.
    assert re.findall(r"<link[^>]*>", text) == ['<link rel="icon" href="data:,">']
    assert not re.search(r"<(script|img|iframe)\b|\bsrc=|https?://|style=", text)


def test_the_page_leads_only_to_places_it_has(client):
    text = client.get(f"{ROOT}docs/").content.decode()

    places = set(re.findall(r'id="([^"]+)"', text))
    assert set(re.findall(r'href="#([^"]+)"', text)) <= places


def test_the_api_has_no_address_the_document_leaves_out():
    patterns = {str(pattern.pattern) for pattern in patterns_of_urlconf()}

    assert len(document()["paths"]) == len(patterns)
