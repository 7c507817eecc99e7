"""Who calls: a bearer token, or the session of the pages. Settled before any view runs."""

from __future__ import annotations

from rest_framework import exceptions
from rest_framework.authentication import SessionAuthentication
from rest_framework.request import Request

from registry.access.requests import Access, access_of
from registry.api.problems import Problem
from registry.models import User


class MembershipAuthentication(SessionAuthentication):
    """Take the access that the middleware settled; a session must prove it was meant (CSRF).

    A token needs no such proof: no browser sends one by itself.
    """

    def authenticate(self, request: Request) -> tuple[User, Access] | None:
        access = access_of(request._request)
        if access is None:
            if request.headers.get("Authorization"):
                raise exceptions.AuthenticationFailed
            return None
        if not access.by_token:
            self._check_csrf(request)
        return access.membership.user, access

    def authenticate_header(self, request: Request) -> str:
        return "Bearer"

    def _check_csrf(self, request: Request) -> None:
        try:
            self.enforce_csrf(request)
        except exceptions.PermissionDenied:
            raise Problem("csrf_refused") from None
