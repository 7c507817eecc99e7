"""Errors outside any view: the API's get the API's shape, the pages' their templates."""

from __future__ import annotations

from typing import Final

from django.http import HttpRequest, HttpResponse
from django.views import defaults
from django.views.decorators.csrf import csrf_exempt

from registry.api.problems import Problem, problem_response

API: Final = "/api/"


def _problem(request: HttpRequest, code: str) -> HttpResponse:
    return problem_response(Problem(code), request)


def _is_api(request: HttpRequest) -> bool:
    return request.path_info.startswith(API)


@csrf_exempt
def unknown_address(request: HttpRequest) -> HttpResponse:
    """An address under the API that leads nowhere, whatever the method."""
    return _problem(request, "not_found")


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    if _is_api(request):
        return _problem(request, "request_not_readable")
    return defaults.bad_request(request, exception)


def permission_denied(request: HttpRequest, exception: Exception) -> HttpResponse:
    if _is_api(request):
        return _problem(request, "not_allowed")
    return defaults.permission_denied(request, exception)


def page_not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    if _is_api(request):
        return _problem(request, "not_found")
    return defaults.page_not_found(request, exception)


def server_error(request: HttpRequest) -> HttpResponse:
    if _is_api(request):
        return _problem(request, "failed")
    return defaults.server_error(request)
