"""The content security policy: nothing from elsewhere, no inline script."""

from __future__ import annotations

import secrets
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

POLICY = (
    "default-src 'none'; script-src 'nonce-{nonce}'; style-src 'self' 'nonce-{nonce}';"
    " img-src 'self' data:; font-src 'self'; connect-src 'self'; form-action 'self';"
    " base-uri 'none'; frame-ancestors 'none'"
)


class ContentSecurityPolicyMiddleware:
    """Give each response a policy, and each request the nonce that its scripts must carry."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        nonce = secrets.token_urlsafe(16)
        request.csp_nonce = nonce  # type: ignore[attr-defined]
        response = self.get_response(request)
        response["Content-Security-Policy"] = POLICY.format(nonce=nonce)
        response["Referrer-Policy"] = "same-origin"
        # What a signed-in person saw must not come back from a shared computer's cache.
        if getattr(request, "registry_access", None) is not None:
            response["Cache-Control"] = "no-store"
        return response
