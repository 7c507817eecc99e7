"""What every page's template may count on."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest

from registry.access.permissions import PERMISSIONS
from registry.access.requests import access_of


def registry_context(request: HttpRequest) -> dict[str, object]:
    """``access`` (or None), ``allowed`` (the actions of its role), ``demo``, ``csp_nonce``."""
    access = access_of(request)
    role = access.role if access else None
    return {
        "access": access,
        "allowed": {action for action, roles in PERMISSIONS.items() if role in roles},
        "demo": settings.DEMO,
        "csp_nonce": getattr(request, "csp_nonce", ""),
    }
