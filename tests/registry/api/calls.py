"""Every operation of the API as one call, for the tests that go through all of them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import URLPattern, get_resolver
from rest_framework.test import APIClient

from registry.access.permissions import PERMISSIONS
from tests.registry.api.conftest import CHECK, CSV_HEADER, CSV_ROW, EVENT

ROOT = "/api/v1/"
Ids = dict[str, str]


@dataclass(frozen=True)
class Call:
    """One operation: ``{name}`` in the address stands for the id of an object of clinic A.

    ``object_of`` says which action lets a role see the object, where the address has one.
    """

    name: str
    method: str
    address: str
    action: str
    success: int
    body: Callable[[Ids], Any] | None = None
    object_of: str | None = None
    headers: dict[str, str] | None = None
    form: bool = False
    # The same for everybody, whatever their clinic.
    is_shared: bool = False

    def send(self, client: APIClient, ids: Ids) -> Any:
        sender = getattr(client, self.method.lower())
        address = ROOT + self.address.format(**ids)
        body = self.body(ids) if self.body else None
        more = {"headers": self.headers} if self.headers else {}
        if self.method == "GET":
            return sender(address, **more)
        return sender(address, body, format="multipart" if self.form else "json", **more)


def _visit(ids: Ids) -> Any:
    return ids["visit_payload"]


def _new_file(ids: Ids) -> Any:
    return {"file": SimpleUploadedFile("v.csv", (CSV_HEADER + CSV_ROW.format("NEW")).encode())}


CALLS = (
    Call("indices_compute", "POST", "indices/", "indices_compute", 200, _visit),
    Call("visit_list", "GET", "visits/", "visit_read", 200),
    Call(
        "visit_create",
        "POST",
        "visits/",
        "visit_create",
        201,
        lambda ids: ids["visit_payload"] | {"visit_ref": "V-NEW"},
    ),
    Call("visit_get", "GET", "visits/{visit}/", "visit_read", 200, object_of="visit_read"),
    Call(
        "visit_amend",
        "PUT",
        "visits/{visit}/",
        "visit_amend",
        200,
        lambda ids: ids["visit_payload"] | {"age_years": 60, "amendment_reason": "entry_error"},
        object_of="visit_read",
        headers={"If-Match": '"1"'},
    ),
    Call(
        "visit_versions",
        "GET",
        "visits/{visit}/versions/",
        "visit_versions_read",
        200,
        object_of="visit_read",
    ),
    Call(
        "visit_withdraw",
        "POST",
        "visits/{visit}/withdraw/",
        "visit_withdraw",
        200,
        object_of="visit_read",
    ),
    Call(
        "subject_codes_mint",
        "POST",
        "subject-codes/",
        "subject_code_mint",
        201,
        lambda ids: {"count": 2},
    ),
    Call(
        "subject_erase",
        "POST",
        "subjects/erase/",
        "subject_erase",
        200,
        lambda ids: {"subject_ref": "S-HTKQB"},
    ),
    Call("upload_create", "POST", "uploads/", "upload_create", 202, _new_file, form=True),
    Call("upload_get", "GET", "uploads/{upload}/", "upload_read", 200, object_of="upload_read"),
    Call(
        "upload_problems",
        "GET",
        "uploads/{upload}/problems/",
        "upload_read",
        200,
        object_of="upload_read",
    ),
    Call(
        "upload_undo", "POST", "uploads/{upload}/undo/", "upload_undo", 200, object_of="upload_read"
    ),
    Call(
        "upload_purge",
        "POST",
        "uploads/{upload}/purge/",
        "upload_purge",
        204,
        object_of="upload_read",
    ),
    Call("tester_list", "GET", "testers/", "tester_read", 200),
    Call("tester_create", "POST", "testers/", "tester_write", 201, lambda ids: {"code": "T-20"}),
    Call("tester_get", "GET", "testers/{tester}/", "tester_read", 200, object_of="tester_read"),
    Call(
        "tester_change",
        "PATCH",
        "testers/{tester}/",
        "tester_write",
        200,
        lambda ids: {"experience_band": "gt5y"},
        object_of="tester_read",
    ),
    *(
        call
        for kind in ("irrigator", "recorder", "thermometer")
        for call in (
            Call(f"{kind}_list", "GET", f"{kind}s/", "device_read", 200),
            Call(
                f"{kind}_create",
                "POST",
                f"{kind}s/",
                "device_write",
                201,
                lambda ids: {"code": "D-20"},
            ),
            Call(
                f"{kind}_get",
                "GET",
                f"{kind}s/{{{kind}}}/",
                "device_read",
                200,
                object_of="device_read",
            ),
            Call(
                f"{kind}_change",
                "PATCH",
                f"{kind}s/{{{kind}}}/",
                "device_write",
                200,
                lambda ids: {"calibration_due": "2027-01-01"},
                object_of="device_read",
            ),
        )
    ),
    Call("temperature_check_list", "GET", "temperature-checks/", "temperature_check_read", 200),
    Call(
        "temperature_check_record",
        "POST",
        "temperature-checks/",
        "temperature_check_write",
        201,
        lambda ids: CHECK | {"stimulus": "cool", "set_temperature_c": 30, "reading_c": 30},
    ),
    Call(
        "temperature_check_withdraw",
        "POST",
        "temperature-checks/{check}/withdraw/",
        "temperature_check_withdraw",
        200,
        object_of="temperature_check_read",
    ),
    Call("equipment_event_list", "GET", "equipment-events/", "equipment_event_read", 200),
    Call(
        "equipment_event_record",
        "POST",
        "equipment-events/",
        "equipment_event_write",
        201,
        lambda ids: EVENT | {"kind": "moved"},
    ),
    Call("measure_list", "GET", "measures/", "measure_read", 200, is_shared=True),
    Call("clinic_list", "GET", "clinics/", "summary_clinic_read", 200),
    Call(
        "clinic_summary",
        "GET",
        "clinics/{clinic}/summary/",
        "summary_clinic_read",
        200,
        object_of="summary_clinic_read",
    ),
    Call(
        "tester_summary",
        "GET",
        "testers/{tester}/summary/",
        "summary_tester_read",
        200,
        object_of="tester_read",
    ),
    Call(
        "irrigator_summary",
        "GET",
        "irrigators/{irrigator}/summary/",
        "summary_irrigator_read",
        200,
        object_of="device_read",
    ),
    Call("signal_list", "GET", "signals/", "signal_read", 200),
    Call("signal_get", "GET", "signals/{signal}/", "signal_read", 200, object_of="signal_read"),
    Call(
        "signal_review",
        "POST",
        "signals/{signal}/review/",
        "signal_review",
        200,
        lambda ids: {"state": "explained", "cause": "patient_mix"},
        object_of="signal_read",
        headers={"If-Match": '"1"'},
    ),
    Call(
        "signal_reply",
        "POST",
        "signals/{signal}/reply/",
        "signal_reply",
        200,
        lambda ids: {"note": "The recorder was new to me."},
        object_of="signal_read",
    ),
    Call("visit_to_check_list", "GET", "visits-to-check/", "stand_out_read", 200),
    Call("look_back_list", "GET", "look-backs/", "look_back_read", 200),
    Call(
        "look_back_get",
        "GET",
        "look-backs/{look_back}/",
        "look_back_read",
        200,
        object_of="look_back_read",
    ),
    Call(
        "look_back_decide",
        "POST",
        "look-backs/{look_back}/visits/{looked_back}/decide/",
        "look_back_decide",
        200,
        lambda ids: {"decision": "re_report"},
        object_of="look_back_read",
    ),
    Call(
        "dashboard_get",
        "GET",
        "dashboards/tester/?about={tester}",
        "dashboard_read",
        200,
        object_of="dashboard_read",
    ),
)
# They describe the interface and hold no data.
OPEN = {("schema/", "GET"), ("docs/", "GET")}


def addresses_of_urlconf() -> Iterator[tuple[str, str]]:
    """Every address pattern of the API and each method it takes, read from the urlconfs."""
    for pattern in patterns_of_urlconf():
        view = pattern.callback.view_class  # type: ignore[attr-defined]
        for method in view().allowed_methods:
            if method not in ("OPTIONS", "HEAD"):
                yield str(pattern.pattern), method


def patterns_of_urlconf() -> Iterator[URLPattern]:
    for urlconf in ("registry.api.urls", "analytics.api.urls"):
        for pattern in get_resolver(urlconf).url_patterns:
            assert isinstance(pattern, URLPattern)
            yield pattern


def shape_of(address: str) -> str:
    """An address, of a call or of a pattern, without its parameters and names of its parts."""
    plain = re.sub(r"<\w+:\w+>|{\w+}", "<>", address.split("?")[0])
    return plain.replace("dashboards/tester/", "dashboards/<>/")


def an_allowed_role(call: Call) -> str:
    """One that may do it and belongs to a clinic."""
    roles = ("coordinator", "uploader", "tester", "site_lead")
    return next(role for role in roles if role in PERMISSIONS[call.action])
