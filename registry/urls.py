"""Where every address leads."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, include, path, re_path

from registry.api.handlers import unknown_address
from registry.api.health import healthz, readyz

handler400 = "registry.api.handlers.bad_request"
handler403 = "registry.api.handlers.permission_denied"
handler404 = "registry.api.handlers.page_not_found"
handler500 = "registry.api.handlers.server_error"

urlpatterns: list[URLPattern | URLResolver] = [
    path("healthz", healthz, name="healthz"),
    path("readyz", readyz, name="readyz"),
    path("api/v1/", include("registry.api.urls")),
    # Named by text: the registry stands without analytics and never imports it.
    path("api/v1/", include("analytics.api.urls")),
    # After every address of the API: what is left of it leads nowhere, and says so in its shape.
    re_path(r"^api/", unknown_address),
    path("", include("registry.pages.urls")),
]
