"""Two clinics, one member of each role in each, and what a test may send on their behalf."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from django.db import connection

from registry.access.roles import CLINIC_ROLES, ROLES
from registry.access.scope import clinic_scope
from registry.access.tables import SCOPED
from tests.conftest import NOW, TEST_ACTOR

CHECK = {
    "irrigator": "IR-2",
    "checked_at": "2026-03-02T08:00:00+00:00",
    "stimulus": "warm",
    "set_temperature_c": 44.0,
    "reading_c": 44.1,
    "thermometer": "TH-1",
    "phase": "as_found",
}
EVENT = {"kind": "serviced", "happened_at": "2026-03-01T08:00:00+00:00", "irrigator": "IR-2"}
CSV_HEADER = (
    "visit_ref,subject_ref,visit_date,age_years,tester,irrigator,medium,"
    "warm_temperature_c,cool_temperature_c,"
    "right_warm.peak_spv,left_warm.peak_spv,right_cool.peak_spv,left_cool.peak_spv\n"
)
CSV_ROW = "V-{0},S-{0},2026-03-02,54,T-07,IR-2,water_open,44,30,28.4,17.2,19.6,12.8\n"


@dataclass
class Scene:
    """Clients by role: ``clients`` of the first clinic, ``others`` of the second."""

    clinic: Any
    other: Any
    clients: dict[str, Any]
    others: dict[str, Any]
    nobody: Any

    def snapshot(self) -> dict[str, Any]:
        """What every scoped table holds of both clinics, to see that nothing changed."""
        with (
            clinic_scope([self.clinic.pk, self.other.pk], by=TEST_ACTOR),
            connection.cursor() as cursor,
        ):
            found = {}
            for table in SCOPED:
                cursor.execute(
                    f"SELECT md5(string_agg(row::text, ',' ORDER BY row::text)) FROM {table} AS row"
                )
                found[table] = cursor.fetchone()[0]
            return found


@pytest.fixture
def scene(
    make_network: Callable[..., Any],
    make_clinic: Callable[..., Any],
    make_member: Callable[..., Any],
    client_of: Callable[..., Any],
) -> Scene:
    """The other clinic is of another network, so that its lead is a stranger too."""
    clinic = make_clinic("CL-A", network=make_network("NW-A"))
    other = make_clinic("CL-B", network=make_network("NW-B"))

    def clients(place: Any) -> dict[str, Any]:
        made = {}
        for role in ROLES:
            if role == "operator":
                continue
            where = place if role in CLINIC_ROLES else place.network
            made[role] = client_of(make_member(role, where))
        return made

    mine, theirs = clients(clinic), clients(other)
    mine["operator"] = theirs["operator"] = client_of(make_member("operator"))
    return Scene(clinic, other, mine, theirs, client_of(None))


@pytest.fixture
def sent_visit(scene: Scene, visit_payload: Callable[..., Any]) -> Callable[..., dict[str, Any]]:
    """A visit of the first clinic, sent through the API; returns its body."""

    def send(**fields: Any) -> dict[str, Any]:
        response = scene.clients["coordinator"].post(
            "/api/v1/visits/", visit_payload(**fields), format="json"
        )
        assert response.status_code in (200, 201), response.json()
        body: dict[str, Any] = response.json()
        return body

    return send


@pytest.fixture
def ids(scene: Scene, sent_visit: Callable[..., Any], visit_payload: Callable[..., Any]) -> Any:
    """Ids of one object of each kind at the first clinic, and a visit to send."""
    from django.core.files.uploadedfile import SimpleUploadedFile

    client = scene.clients["coordinator"]
    root = "/api/v1/"
    file = SimpleUploadedFile("v.csv", (CSV_HEADER + CSV_ROW.format("UPL")).encode())
    found: dict[str, Any] = {"visit_payload": visit_payload(), "visit": sent_visit()["id"]}
    found["upload"] = client.post(f"{root}uploads/", {"file": file}).json()["id"]
    for kind in ("tester", "irrigator", "recorder", "thermometer"):
        found[kind] = client.get(f"{root}{kind}s/").json()["results"][0]["id"]
    check = client.post(f"{root}temperature-checks/", CHECK, format="json").json()
    found["check"] = check["check"]["id"]
    client.post(f"{root}equipment-events/", EVENT, format="json")
    return found | _ids_of_analytics(scene.clinic, tester=found["tester"])


def _ids_of_analytics(clinic: Any, *, tester: str) -> dict[str, str]:
    """A row in every table of the consistency engine, and a dashboard for each audience."""
    from analytics.models import LookBackVisit, Signal, Snapshot
    from tests.analytics.rows import fill_analytics

    with clinic_scope([clinic.pk], by=TEST_ACTOR):
        fill_analytics(clinic)
        # Read already, so that reading it once more changes nothing.
        Signal.objects.update(seen_by_tester_at=NOW)
        for audience in ("tester", "lead"):
            Snapshot.objects.create(
                network=clinic.network,
                clinics=[clinic.pk],
                name="tester",
                audience=audience,
                about=tester,
                content={"figures": {}, "facts": {"for": audience}},
                built_at=NOW,
            )
        looked_back = LookBackVisit.objects.get()
        return {
            "clinic": str(clinic.public_id),
            "signal": str(Signal.objects.get().id),
            "look_back": str(looked_back.look_back_id),
            "looked_back": str(looked_back.visit_id),
        }
