"""The addresses of the pages."""

from __future__ import annotations

from django.contrib.auth.views import LogoutView
from django.urls import path

from registry.pages import (
    devices,
    downloads,
    home,
    irrigators,
    signing_in,
    testers,
    uploads,
    visit_amend,
    visit_entry,
    visit_list,
    visit_page,
)
from registry.pages import help as help_

urlpatterns = [
    path("", home.home, name="home"),
    path("sign-in/", signing_in.SignIn.as_view(), name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("membership/", signing_in.membership, name="membership"),
    path("help/", help_.help_page, name="help"),
    path("visits/", visit_list.visit_list, name="visits"),
    path("visits/new/", visit_entry.visit_new, name="visit-new"),
    path("visits/new/codes/", visit_entry.codes, name="codes"),
    path("visits/<uuid:visit_id>/", visit_page.visit_page, name="visit"),
    path("visits/<uuid:visit_id>/amend/", visit_amend.amend, name="visit-amend"),
    path("visits/<uuid:visit_id>/withdraw/", visit_amend.withdraw, name="visit-withdraw"),
    path(
        "visits/<uuid:visit_id>/beats/<slug:irrigation>.csv",
        visit_page.visit_beats,
        name="visit-beats",
    ),
    path("uploads/", uploads.uploads, name="uploads"),
    path("uploads/templates/<str:name>", downloads.template, name="template"),
    path("uploads/<uuid:upload_id>/", uploads.upload, name="upload"),
    path("uploads/<uuid:upload_id>/problems.csv", uploads.problems_csv, name="upload-problems"),
    path("uploads/<uuid:upload_id>/undo/", uploads.undo, name="upload-undo"),
    path("uploads/<uuid:upload_id>/purge/", uploads.purge, name="upload-purge"),
    path("irrigators/", irrigators.irrigators, name="irrigators"),
    path("irrigators/<uuid:irrigator_id>/", irrigators.irrigator, name="irrigator"),
    path(
        "temperature-checks/<uuid:check_id>/withdraw/",
        irrigators.check_withdraw,
        name="temperature-check-withdraw",
    ),
    path("testers/", testers.testers, name="testers"),
    path("testers/<uuid:tester_id>/", testers.tester, name="tester"),
    path("devices/", devices.devices, name="devices"),
    path("devices/<str:kind>/<uuid:device_id>/", devices.device, name="device"),
]
