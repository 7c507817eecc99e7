"""Is the process up, and can it reach what it needs? For whoever runs the service."""

from __future__ import annotations

import logging

from django.db import DatabaseError, connection
from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from kombu.exceptions import OperationalError

from registry.access.requests import own_transactions
from registry.celery import app

BROKER_TIMEOUT_S = 2

logger = logging.getLogger(__name__)


@never_cache
@require_safe
def healthz(request: HttpRequest) -> JsonResponse:
    """200 as long as the process answers; a restart would help when it does not."""
    return JsonResponse({"status": "up"})


@own_transactions  # an answer of 503 would otherwise have a transaction of the caller to undo
@never_cache
@require_safe
def readyz(request: HttpRequest) -> JsonResponse:
    """200 when database and broker are reachable, else 503; a restart would not help."""
    reachable = {"database": _database_reachable(), "broker": _broker_reachable()}
    ready = all(reachable.values())
    return JsonResponse(
        {"status": "ready" if ready else "not ready", **reachable}, status=200 if ready else 503
    )


def _database_reachable() -> bool:
    try:
        connection.ensure_connection()
        return bool(connection.is_usable())
    except DatabaseError:
        logger.warning("readiness: the database is not reachable")
        return False


def _broker_reachable() -> bool:
    try:
        with app.connection_for_read() as broker:
            broker.ensure_connection(max_retries=1, timeout=BROKER_TIMEOUT_S)
            return True
    except OperationalError:
        logger.warning("readiness: the broker is not reachable")
        return False
