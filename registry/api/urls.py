"""The addresses under ``/api/v1/``."""

from __future__ import annotations

from django.urls import path

from registry.api import (
    devices,
    equipment_events,
    indices,
    schema,
    subjects,
    testers,
    uploads,
    visits,
)
from registry.api import temperature_checks as checks

urlpatterns = [
    path("schema/", schema.SchemaView.as_view(), name="api-schema"),
    path("docs/", schema.DocsView.as_view(), name="api-docs"),
    path("indices/", indices.IndicesView.as_view(), name="api-indices"),
    path("visits/", visits.VisitListView.as_view(), name="api-visits"),
    path("visits/<uuid:visit_id>/", visits.VisitView.as_view(), name="api-visit"),
    path(
        "visits/<uuid:visit_id>/versions/",
        visits.VisitVersionsView.as_view(),
        name="api-visit-versions",
    ),
    path(
        "visits/<uuid:visit_id>/withdraw/",
        visits.VisitWithdrawView.as_view(),
        name="api-visit-withdraw",
    ),
    path("subject-codes/", subjects.SubjectCodesView.as_view(), name="api-subject-codes"),
    path("subjects/erase/", subjects.SubjectEraseView.as_view(), name="api-subject-erase"),
    path("uploads/", uploads.UploadListView.as_view(), name="api-uploads"),
    path("uploads/<uuid:upload_id>/", uploads.UploadView.as_view(), name="api-upload"),
    path(
        "uploads/<uuid:upload_id>/problems/",
        uploads.UploadProblemsView.as_view(),
        name="api-upload-problems",
    ),
    path(
        "uploads/<uuid:upload_id>/undo/", uploads.UploadUndoView.as_view(), name="api-upload-undo"
    ),
    path(
        "uploads/<uuid:upload_id>/purge/",
        uploads.UploadPurgeView.as_view(),
        name="api-upload-purge",
    ),
    path("testers/", testers.TesterListView.as_view(), name="api-testers"),
    path("testers/<uuid:tester_id>/", testers.TesterView.as_view(), name="api-tester"),
    path("irrigators/", devices.IrrigatorListView.as_view(), name="api-irrigators"),
    path("irrigators/<uuid:device_id>/", devices.IrrigatorView.as_view(), name="api-irrigator"),
    path("recorders/", devices.RecorderListView.as_view(), name="api-recorders"),
    path("recorders/<uuid:device_id>/", devices.RecorderView.as_view(), name="api-recorder"),
    path("thermometers/", devices.ThermometerListView.as_view(), name="api-thermometers"),
    path(
        "thermometers/<uuid:device_id>/", devices.ThermometerView.as_view(), name="api-thermometer"
    ),
    path(
        "temperature-checks/",
        checks.TemperatureCheckListView.as_view(),
        name="api-temperature-checks",
    ),
    path(
        "temperature-checks/<uuid:check_id>/withdraw/",
        checks.TemperatureCheckWithdrawView.as_view(),
        name="api-temperature-check-withdraw",
    ),
    path(
        "equipment-events/",
        equipment_events.EquipmentEventListView.as_view(),
        name="api-equipment-events",
    ),
]
