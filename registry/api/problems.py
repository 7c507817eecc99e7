"""Every error as RFC 9457 ``application/problem+json``, in one shape, echoing nothing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from http import HTTPStatus
from typing import Any, Final

from django.core.exceptions import (
    PermissionDenied,
    RequestDataTooBig,
    SuspiciousOperation,
)
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from rest_framework import exceptions

from registry.access.requests import request_id_of
from registry.api.catalogue import DETAIL, PROBLEMS
from registry.intake.faults import Fault

MEDIA_TYPE: Final = "application/problem+json"
# A list of ten thousand visits may hold a hundred thousand faults; nobody reads so many.
MOST_ERRORS: Final = 1_000

Entry = dict[str, Any]


class Problem(Exception):
    """A request that is answered with an error: ``code`` is a key of ``catalogue.PROBLEMS``."""

    def __init__(
        self,
        code: str,
        *,
        faults: Iterable[Fault] = (),
        catalogue: Mapping[str, str] = DETAIL,
        entries: Sequence[Entry] = (),
        more: Mapping[str, Any] | None = None,
    ) -> None:
        super().__init__(code)
        self.code = code
        self.errors = [*entries, *(entry_of(fault, catalogue) for fault in faults)]
        self.more = dict(more or {})


def entry_of(fault: Fault, catalogue: Mapping[str, str] = DETAIL) -> Entry:
    """One fault with its fixed sentence; the place of an unknown field instead of its name."""
    entry: Entry = {
        "pointer": fault.pointer,
        "code": fault.code,
        "detail": catalogue[fault.code],
    }
    if fault.position is not None:
        entry["position"] = fault.position
    return entry


def problem_body(problem: Problem, request: HttpRequest) -> dict[str, Any]:
    """The members of RFC 9457, the code, the id to name when asking, and each error."""
    status, detail = PROBLEMS[problem.code]
    body: dict[str, Any] = {
        "type": "about:blank",
        "title": HTTPStatus(status).phrase,
        "status": status,
        "code": problem.code,
        "detail": detail,
        "request_id": request_id_of(request),
    }
    if problem.errors:
        body["errors"] = problem.errors[:MOST_ERRORS]
        if len(problem.errors) > MOST_ERRORS:
            body["errors_not_shown"] = len(problem.errors) - MOST_ERRORS
    return body | problem.more


def problem_response(problem: Problem, request: HttpRequest) -> HttpResponse:
    """The answer, made here and by no renderer: a list asked for as CSV fails as JSON too."""
    return JsonResponse(
        problem_body(problem, request),
        status=PROBLEMS[problem.code][0],
        content_type=MEDIA_TYPE,
    )


def exception_handler(error: Exception, context: dict[str, Any]) -> HttpResponse | None:
    """The answer to an error that a view raised; ``None`` for one that nobody foresaw.

    An unforeseen one travels on, so that the transaction is rolled back, and ends in
    ``handlers.server_error``.
    """
    # The domain's errors are imported late: their modules need the models to be ready.
    from registry.api.translation import problem_of

    problem = error if isinstance(error, Problem) else problem_of(error)
    problem = problem or _of_framework(error)
    if problem is None:
        return None
    response = problem_response(problem, context["request"]._request)
    for name, value in _headers(error).items():
        response[name] = value
    return response


def _headers(error: Exception) -> dict[str, str]:
    headers = {}
    challenge = getattr(error, "auth_header", None)
    if challenge:
        headers["WWW-Authenticate"] = str(challenge)
    wait = getattr(error, "wait", None)
    if wait:
        headers["Retry-After"] = str(int(wait))
    return headers


_FRAMEWORK: Final[tuple[tuple[type[Exception], str], ...]] = (
    (exceptions.NotAuthenticated, "not_signed_in"),
    (exceptions.AuthenticationFailed, "token_refused"),
    (exceptions.PermissionDenied, "not_allowed"),
    (exceptions.NotFound, "not_found"),
    (exceptions.MethodNotAllowed, "method_not_allowed"),
    (exceptions.NotAcceptable, "not_acceptable"),
    (exceptions.UnsupportedMediaType, "unsupported_media_type"),
    (exceptions.Throttled, "too_many_requests"),
    (exceptions.ParseError, "form_not_readable"),
    (Http404, "not_found"),
    (PermissionDenied, "not_allowed"),
    (RequestDataTooBig, "body_too_large"),
    (SuspiciousOperation, "request_not_readable"),
)


def _of_framework(error: Exception) -> Problem | None:
    for kind, code in _FRAMEWORK:
        if isinstance(error, kind):
            return Problem(code)
    return None
