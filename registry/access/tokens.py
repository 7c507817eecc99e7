"""Tokens for programs: shown once, kept as a keyed digest, expiring, revocable."""

from __future__ import annotations

import hmac
import secrets
from datetime import datetime, timedelta

from django.db import transaction

from registry.access import audit
from registry.access.digests import digest_keys, keyed_digest, signing_key
from registry.access.scope import Actor
from registry.models import ApiToken, Membership

DEFAULT_LIFETIME = timedelta(days=180)
# A request a second must not write a row a second.
LAST_USED_STEP = timedelta(minutes=5)


class TokenRefused(Exception):
    """The token is unknown, wrong, expired or revoked, or its membership is no longer in force."""


@transaction.atomic
def token_issue(
    *,
    membership: Membership,
    created_at: datetime,
    by: Actor,
    lifetime: timedelta = DEFAULT_LIFETIME,
) -> str:
    """Make a token for a membership and return it; it can never be read again."""
    public_id, secret = secrets.token_hex(8), secrets.token_urlsafe(32)
    number, key = signing_key()
    token = ApiToken.objects.create(
        public_id=public_id,
        membership=membership,
        digest=keyed_digest("api token", secret, key=key),
        key_number=number,
        created_at=created_at,
        expires_at=created_at + lifetime,
    )
    audit.record(
        "token.issued",
        by=by,
        at=created_at,
        clinic_id=membership.clinic_id,
        object_kind="api_token",
        object_id=token.pk,
        detail={"membership": membership.pk},
    )
    return f"{public_id}.{secret}"


def token_membership(text: str, *, at: datetime) -> Membership:
    """The membership that a presented token stands for.

    :raises TokenRefused: with no word on which of the reasons it was.
    """
    public_id, _, secret = text.partition(".")
    token = (
        ApiToken.objects.select_related(
            "membership__user", "membership__clinic__network", "membership__network"
        )
        .filter(public_id=public_id, revoked_at=None, expires_at__gt=at)
        .filter(membership__revoked_at=None, membership__user__is_active=True)
        .first()
        if public_id and secret
        else None
    )
    key = digest_keys().get(token.key_number) if token else None
    if token is None or key is None:
        raise TokenRefused
    if not hmac.compare_digest(bytes(token.digest), keyed_digest("api token", secret, key=key)):
        raise TokenRefused
    _note_use(token, at)
    return token.membership


def _note_use(token: ApiToken, at: datetime) -> None:
    if token.last_used_at is None or at - token.last_used_at > LAST_USED_STEP:
        ApiToken.objects.filter(pk=token.pk).update(last_used_at=at)
