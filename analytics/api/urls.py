"""The addresses of the consistency engine under ``/api/v1/``."""

from __future__ import annotations

from django.urls import path

from analytics.api import (
    clinics,
    dashboards,
    look_backs,
    measures,
    signals,
    summaries,
    visits_to_check,
)
from analytics.api.errors import ANSWERED_WITH
from analytics.api.shapes import ANALYTICS_SHAPES
from registry.api.shapes import COMPONENTS
from registry.api.translation import answer_with

# The registry knows nothing of this app: it is told here, where the addresses are made.
COMPONENTS.update(ANALYTICS_SHAPES)
answer_with(ANSWERED_WITH)

urlpatterns = [
    path("measures/", measures.MeasureListView.as_view(), name="api-measures"),
    path("clinics/", clinics.ClinicListView.as_view(), name="api-clinics"),
    path(
        "clinics/<uuid:subject_id>/summary/",
        summaries.ClinicSummaryView.as_view(),
        name="api-clinic-summary",
    ),
    path(
        "testers/<uuid:subject_id>/summary/",
        summaries.TesterSummaryView.as_view(),
        name="api-tester-summary",
    ),
    path(
        "irrigators/<uuid:subject_id>/summary/",
        summaries.IrrigatorSummaryView.as_view(),
        name="api-irrigator-summary",
    ),
    path("signals/", signals.SignalListView.as_view(), name="api-signals"),
    path("signals/<uuid:signal_id>/", signals.SignalView.as_view(), name="api-signal"),
    path(
        "signals/<uuid:signal_id>/review/",
        signals.SignalReviewView.as_view(),
        name="api-signal-review",
    ),
    path(
        "signals/<uuid:signal_id>/reply/",
        signals.SignalReplyView.as_view(),
        name="api-signal-reply",
    ),
    path(
        "visits-to-check/",
        visits_to_check.VisitToCheckListView.as_view(),
        name="api-visits-to-check",
    ),
    path("look-backs/", look_backs.LookBackListView.as_view(), name="api-look-backs"),
    path(
        "look-backs/<uuid:look_back_id>/", look_backs.LookBackView.as_view(), name="api-look-back"
    ),
    path(
        "look-backs/<uuid:look_back_id>/visits/<uuid:visit_id>/decide/",
        look_backs.LookBackDecideView.as_view(),
        name="api-look-back-decide",
    ),
    path("dashboards/<slug:name>/", dashboards.DashboardView.as_view(), name="api-dashboard"),
]
