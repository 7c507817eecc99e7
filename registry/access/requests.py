"""Who a request comes from and whose rows it may see, settled before any view runs."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import tzinfo
from typing import TypeVar, cast

from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from registry.access.scope import Actor, clinic_scope
from registry.access.tokens import TokenRefused, token_membership
from registry.models import Clinic, Membership

GetResponse = Callable[[HttpRequest], HttpResponse]
ViewT = TypeVar("ViewT", bound=Callable[..., HttpResponse])


@dataclass(frozen=True, slots=True)
class Access:
    """What the request acts under: one membership and the clinics it reaches."""

    membership: Membership
    clinic_ids: tuple[int, ...]
    actor: Actor
    by_token: bool

    @property
    def role(self) -> str:
        return self.membership.role

    @property
    def clinic(self) -> Clinic | None:
        return self.membership.clinic

    def zone(self) -> tzinfo:
        return self.clinic.zone() if self.clinic else timezone.get_default_timezone()


def access_of(request: HttpRequest) -> Access | None:
    """The access that the middleware settled, or None for somebody not known."""
    return cast("Access | None", getattr(request, "registry_access", None))


def request_id_of(request: HttpRequest) -> str:
    return cast(str, getattr(request, "registry_request_id", ""))


class RequestIdMiddleware:
    """Give every request an id of ours; it stands in the response, the log and the audit."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.registry_request_id = uuid.uuid4().hex  # type: ignore[attr-defined]
        response = self.get_response(request)
        response["X-Request-Id"] = request_id_of(request)
        return response


class MembershipMiddleware:
    """Settle the membership, then run the view inside that membership's scope.

    The scope is a transaction: an unforeseen error takes back everything the view wrote.
    A view marked ``own_transactions`` (see ``own_transactions``) opens its scopes itself.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.registry_access = _settle(request)  # type: ignore[attr-defined]
        return self.get_response(request)

    def process_view(
        self,
        request: HttpRequest,
        view: Callable[..., HttpResponse],
        args: tuple[object, ...],
        kwargs: dict[str, object],
    ) -> HttpResponse | None:
        access = access_of(request)
        if access is None or getattr(view, "own_transactions", False):
            return None
        with clinic_scope(access.clinic_ids, by=access.actor):
            response = view(request, *args, **kwargs)
            if hasattr(response, "render") and not getattr(response, "is_rendered", True):
                response = response.render()
            if response.status_code >= 500:
                transaction.set_rollback(True)
        return response


def own_transactions(view: ViewT) -> ViewT:
    """Mark a view whose work is longer than one transaction should be."""
    view.own_transactions = True  # type: ignore[attr-defined]
    return view


def _settle(request: HttpRequest) -> Access | None:
    header = request.headers.get("Authorization", "")
    if header:
        return _by_token(request, header)
    return _by_session(request)


def _by_token(request: HttpRequest, header: str) -> Access | None:
    scheme, _, text = header.partition(" ")
    if scheme.lower() != "bearer":
        return None
    try:
        membership = token_membership(text.strip(), at=timezone.now())
    except TokenRefused:
        return None
    return access_under(membership, request_id=request_id_of(request), by_token=True)


def _by_session(request: HttpRequest) -> Access | None:
    if not request.user.is_authenticated:
        return None
    in_force = (
        Membership.objects.in_force()
        .filter(user=request.user)
        .select_related("user", "clinic__network", "network")
        .order_by("id")
    )
    chosen = request.session.get("membership_id")
    # A chosen one that was revoked meanwhile stands for no other: what was typed for one clinic
    # would be stored at the next.
    membership = next((one for one in in_force if chosen in (None, one.pk)), None)
    if membership is None:
        return None
    return access_under(membership, request_id=request_id_of(request), by_token=False)


def access_under(membership: Membership, *, request_id: str, by_token: bool) -> Access:
    """The access that a membership gives: its clinic, its network's clinics, or none."""
    return Access(
        membership=membership,
        clinic_ids=_reach(membership),
        actor=Actor(name=membership.user.username, role=membership.role, request_id=request_id),
        by_token=by_token,
    )


def _reach(membership: Membership) -> tuple[int, ...]:
    if membership.clinic_id is not None:
        return (membership.clinic_id,)
    if membership.role == "lead" and membership.network_id is not None:
        clinics = Clinic.objects.filter(network_id=membership.network_id).order_by("id")
        return tuple(clinics.values_list("id", flat=True))
    return ()
