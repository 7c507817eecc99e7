"""Who may open a page: nobody is sent to sign in, a role without the right is refused."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect

from registry.access.permissions import may
from registry.access.requests import Access, access_of
from registry.models import Clinic

P = ParamSpec("P")
MemberView = Callable[Concatenate[HttpRequest, Access, P], HttpResponse]
PageView = Callable[Concatenate[HttpRequest, P], HttpResponse]


def members_page(action: str | None = None) -> Callable[[MemberView[P]], PageView[P]]:
    """Open a view to the members whose role may do ``action`` (``None``: to every member).

    The view gets the access as its second argument. A token is for programs and opens no page.
    """

    def wrap(view: MemberView[P]) -> PageView[P]:
        @wraps(view)
        def page(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
            access = access_of(request)
            if access is None and request.user.is_authenticated:
                return redirect("membership")
            if access is None or access.by_token:
                return redirect_to_login(request.get_full_path())
            if action is not None and not may(access.role, action):
                raise PermissionDenied
            return view(request, access, *args, **kwargs)

        return page

    return wrap


def require(access: Access, action: str) -> None:
    """:raises PermissionDenied: if the role may not do this part of what the page offers."""
    if not may(access.role, action):
        raise PermissionDenied


def clinic_in(access: Access) -> Clinic:
    """The clinic acted for; a page of one clinic's things does not exist without one."""
    if access.clinic is None:
        raise Http404
    return access.clinic
