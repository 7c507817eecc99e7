"""Unforeseen errors in the log: where in the code and what kind, but nothing that was sent.

Django's own line would hold the path, and the text of a database error the row that failed.
"""

from __future__ import annotations

import logging
import sys
import traceback

from django.core.signals import got_request_exception
from django.http import HttpRequest

from registry.access.requests import request_id_of

logger = logging.getLogger("registry.failures")


def connect_signals() -> None:
    got_request_exception.connect(log_failure, dispatch_uid="log_failure")


def log_failure(*, request: HttpRequest | None = None, **_: object) -> None:
    """Log the error being handled in a request: the route and the request id beside it."""
    if request is not None:
        match = request.resolver_match
        log_error(match.view_name if match else "no route", request_id_of(request))


def log_error(where: str, number: object) -> None:
    """Log the frames and the class of the error being handled; call it while it is."""
    kind, _error, frames = sys.exc_info()
    if kind is None:
        return
    logger.error(
        "unforeseen %s in %s, request %s\n%s",
        kind.__name__,
        where,
        number,
        "".join(traceback.format_tb(frames)),
    )
