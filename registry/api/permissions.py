"""Deny by default: a view names, method by method, the action that its caller must be allowed."""

from __future__ import annotations

from typing import Any

from rest_framework.exceptions import NotFound
from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from registry.access.permissions import may
from registry.access.requests import Access, access_of


class Closed(BasePermission):
    """Open only what ``view.actions`` names, to the roles that ``PERMISSIONS`` lists for it.

    A thing the caller may not see is not found; 403 is for a thing the caller may see.
    """

    def has_permission(self, request: Request, view: Any) -> bool:
        access = access_of(request._request)
        if access is None:
            return False
        method = "GET" if request.method == "HEAD" else str(request.method)
        if method == "OPTIONS" or not hasattr(view, method.lower()):
            # Answered with Allow, or with 405; neither shows anything.
            return True
        action = getattr(view, "actions", {}).get(method)
        if action is not None and may(access.role, action):
            return True
        _hide_what_may_not_be_seen(access, view)
        return False


def _hide_what_may_not_be_seen(access: Access, view: Any) -> None:
    seen_with = getattr(view, "seen_with", None)
    if not view.kwargs or seen_with is None:
        return
    if not may(access.role, seen_with):
        raise NotFound
    view.find(access, **view.kwargs)
