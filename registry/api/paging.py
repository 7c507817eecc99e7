"""Cursor pages: each row once on a whole walk, however many are added meanwhile.

A cursor holds the place of the row it continues after, not a count of rows: a row added before
that place moves nothing.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final, Generic, TypeVar

from django.core.exceptions import ImproperlyConfigured, ValidationError
from django.db.models import Model, Q, QuerySet
from django.http import QueryDict
from django.utils.timezone import is_naive
from rest_framework.request import Request
from rest_framework.response import Response

from registry.api.problems import Problem
from registry.intake.faults import Fault

DEFAULT_SIZE: Final = 100
LARGEST_SIZE: Final = 1_000
PARAMETERS: Final = ("cursor", "page_size", "format")
# Each ends a list's order: no two rows of a list share it.
_UNIQUE: Final = ("id", "number")

RowT = TypeVar("RowT", bound=Model)


@dataclass(frozen=True, slots=True)
class Page(Generic[RowT]):
    rows: list[RowT]
    next: str | None
    previous: str | None


@dataclass(frozen=True, slots=True)
class _Order:
    """Fields that are all ordered the same way, the last of them unique."""

    fields: tuple[str, ...]
    descending: bool


def page_response(
    request: Request, queryset: QuerySet[RowT], as_json: Callable[[list[RowT]], list[Any]]
) -> Response:
    """The asked page as ``{results, next, previous}``; ``as_json`` gets all its rows at once."""
    page = page_of(request, queryset)
    return Response({"results": as_json(page.rows), "next": page.next, "previous": page.previous})


def page_of(request: Request, queryset: QuerySet[RowT]) -> Page[RowT]:
    """The rows of the asked page.

    :raises Problem: for a cursor or a page size that is none.
    :raises ImproperlyConfigured: for a queryset without a total order.
    """
    order = _order_of(queryset)
    size = _size(request.query_params)
    backwards, place = _read_cursor(request.query_params.get("cursor"), queryset, order)
    if place is not None:
        queryset = queryset.filter(_beyond(order, place, backwards=backwards))
    if backwards:
        queryset = queryset.reverse()
    found = list(queryset[: size + 1])
    rows, has_more = found[:size], len(found) > size
    if backwards:
        rows.reverse()
    has_next = bool(rows) and (has_more or backwards)
    has_previous = bool(rows) and (place is not None if not backwards else has_more)
    return Page(
        rows,
        next=_link(request, order, rows[-1], backwards=False) if has_next else None,
        previous=_link(request, order, rows[0], backwards=True) if has_previous else None,
    )


def _order_of(queryset: QuerySet[RowT]) -> _Order:
    names = [str(name) for name in queryset.query.order_by]
    descending = {name.startswith("-") for name in names}
    fields = tuple(name.removeprefix("-") for name in names)
    if not fields or fields[-1] not in _UNIQUE or len(descending) != 1:
        raise ImproperlyConfigured("A list is paged in one direction, by a unique field at last.")
    return _Order(fields, descending.pop())


def _size(parameters: QueryDict) -> int:
    text = parameters.get("page_size")
    if text is None:
        return DEFAULT_SIZE
    if not (text.isascii() and text.isdigit()) or not 1 <= int(text[:9]) <= LARGEST_SIZE:
        raise Problem("parameter_not_valid", faults=[Fault("/page_size", "out_of_range")])
    return int(text)


def _beyond(order: _Order, place: list[Any], *, backwards: bool) -> Q:
    """The rows after the place in the order, or before it."""
    lookup = "lt" if order.descending is not backwards else "gt"
    # The first field alone lets an index bound the search; the rest settles equal ones.
    condition = Q(**{f"{order.fields[0]}__{lookup}e": place[0]})
    strictly = Q(**{f"{order.fields[-1]}__{lookup}": place[-1]})
    for field, value in reversed(list(zip(order.fields[:-1], place[:-1], strict=True))):
        strictly = Q(**{f"{field}__{lookup}": value}) | (Q(**{field: value}) & strictly)
    return condition & strictly


def _link(request: Request, order: _Order, row: Model, *, backwards: bool) -> str:
    place = [str(getattr(row, field)) for field in order.fields]
    text = json.dumps([int(backwards), *place], separators=(",", ":"))
    parameters = request.query_params.copy()
    parameters["cursor"] = base64.urlsafe_b64encode(text.encode()).decode().rstrip("=")
    return request.build_absolute_uri(f"{request.path}?{parameters.urlencode()}")


def _read_cursor(
    text: str | None, queryset: QuerySet[RowT], order: _Order
) -> tuple[bool, list[Any] | None]:
    if text is None:
        return False, None
    try:
        decoded = json.loads(base64.urlsafe_b64decode(text + "=" * (-len(text) % 4)))
        backwards, *place = decoded
        fields = [queryset.model._meta.get_field(name) for name in order.fields]
        values = [
            field.to_python(_plain(value))  # type: ignore[union-attr]
            for field, value in zip(fields, place, strict=True)
        ]
    except (ValueError, TypeError, ValidationError, RecursionError):
        raise Problem("cursor_not_valid") from None
    if backwards not in (0, 1) or any(map(_is_no_place, values)):
        raise Problem("cursor_not_valid")
    return bool(backwards), values


def _plain(value: object) -> str:
    """Codes, times, numbers and ids are all plain text; a zero byte would stop the database."""
    if not isinstance(value, str) or not (value.isascii() and value.isprintable()):
        raise ValueError
    return value


def _is_no_place(value: object) -> bool:
    return value is None or (isinstance(value, datetime) and is_naive(value))
