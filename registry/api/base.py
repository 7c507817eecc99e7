"""What every view of the API shares: who asks, for which clinic, when, and with what body."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, ClassVar

from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from registry.access.requests import Access, access_of
from registry.api.operation import OperationSchema
from registry.api.problems import Problem
from registry.models import Clinic


class ApiView(APIView):
    """A view that is closed until ``actions`` names an action for the method.

    ``seen_with`` is the action whose roles may know that the object of this address exists;
    ``find`` then raises if this object is not among theirs.
    """

    actions: ClassVar[Mapping[str, str]] = {}
    seen_with: ClassVar[str | None] = None
    schema = OperationSchema()

    def find(self, access: Access, **kwargs: Any) -> object:
        """Overridden by views of one object: get it, or raise that it was not found."""
        return None

    def options(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        """Say which methods there are, and nothing else."""
        return Response(status=204, headers={"Allow": ", ".join(self.allowed_methods)})


def access_in(request: Request) -> Access:
    """The access of a request that was let in."""
    access = access_of(request._request)
    if access is None:
        raise Problem("not_signed_in")
    return access


def clinic_in(request: Request) -> Clinic:
    """The clinic whose member asks."""
    return clinic_of(access_in(request))


def clinic_of(access: Access) -> Clinic:
    """The clinic of a membership.

    :raises Problem: for a role that is held at no clinic.
    """
    if access.clinic is None:
        raise Problem("not_allowed")
    return access.clinic


def body_of(request: Request) -> object:
    """The parsed body.

    :raises Problem: if none was sent; an absent body is not an empty object.
    """
    if not str(request.META.get("CONTENT_LENGTH") or "0").strip("0"):
        raise Problem("body_missing")
    parsed: object = request.data
    return parsed


def now() -> datetime:
    """The clock is read here, at the edge, and passed in."""
    return timezone.now()
