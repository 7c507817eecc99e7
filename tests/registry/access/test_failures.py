"""An unforeseen error: nothing is kept, the log says where, and nothing that was sent."""

from __future__ import annotations

import pytest
from django.http import HttpResponse
from django.test import Client, RequestFactory

from registry.access.requests import MembershipMiddleware, access_under
from registry.access.scope import clinic_scope
from registry.models import Subject, Tester
from tests.conftest import NOW, TEST_ACTOR

pytestmark = pytest.mark.django_db


def test_the_log_names_the_error_and_not_what_was_sent(
    make_clinic, make_member, client_of, visit_payload, monkeypatch, caplog
):
    def fails(*, data, **_):
        raise RuntimeError(data["subject_ref"])

    monkeypatch.setattr("registry.api.visits.visit_submit", fails)
    client = client_of(make_member("coordinator", make_clinic()))
    client.raise_request_exception = False

    response = client.post("/api/v1/visits/", visit_payload(), format="json")

    assert response.status_code == 500
    assert "RuntimeError" in caplog.text
    assert response["X-Request-Id"] in caplog.text
    assert "HTKQB" not in caplog.text
    assert "HTKQB" not in response.content.decode()


@pytest.mark.parametrize(("status", "kept"), [(200, 1), (404, 1), (500, 0)])
def test_a_view_that_answers_with_an_error_of_ours_keeps_nothing(
    make_clinic, make_member, status, kept
):
    clinic = make_clinic()
    request = RequestFactory().get("/")
    member = make_member("coordinator", clinic)
    request.registry_access = access_under(member, request_id="r", by_token=True)

    def view(request):
        Subject.objects.create(clinic=clinic, ref="S-KEEPS", created_at=NOW)
        return HttpResponse(status=status)

    response = MembershipMiddleware(view).process_view(request, view, (), {})

    assert response.status_code == status
    assert Tester.objects.count() == 0
    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        assert Subject.objects.count() == kept


def test_the_log_of_a_refused_form_holds_no_address(make_clinic, make_member, caplog):
    browser = Client(enforce_csrf_checks=True)
    browser.force_login(make_member("coordinator", make_clinic()).user)

    response = browser.post("/uploads/templates/S-HTKQB")

    assert response.status_code == 403
    assert "HTKQB" not in caplog.text
