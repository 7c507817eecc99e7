"""Cursor pages: the place a page continues from, written into an opaque text and read again."""

from __future__ import annotations

import base64
import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final, Generic, TypeVar

from django.core.exceptions import ValidationError
from django.db.models import Model, QuerySet
from django.http import QueryDict
from django.utils.timezone import is_naive
from rest_framework.request import Request
from rest_framework.response import Response

from registry.api.problems import Problem
from registry.intake.faults import Fault
from registry.reading.keyset import Order, keyset_page, order_of

DEFAULT_SIZE: Final = 100
LARGEST_SIZE: Final = 1_000
PARAMETERS: Final = ("cursor", "page_size", "format")

RowT = TypeVar("RowT", bound=Model)


@dataclass(frozen=True, slots=True)
class Page(Generic[RowT]):
    rows: list[RowT]
    next: str | None
    previous: str | None


def page_response(
    request: Request,
    queryset: QuerySet[RowT],
    as_json: Callable[[list[RowT]], list[Any]],
    *,
    places: QuerySet[RowT] | None = None,
) -> Response:
    """The asked page as ``{results, next, previous}``; ``as_json`` gets all its rows at once."""
    page = page_of(request, queryset, places=places)
    return Response({"results": as_json(page.rows), "next": page.next, "previous": page.previous})


def page_of(
    request: Request, queryset: QuerySet[RowT], *, places: QuerySet[RowT] | None = None
) -> Page[RowT]:
    """The rows of the asked page.

    With ``places`` a cursor holds a row's id alone, and its place is looked up there: for readers
    to whom the place itself, a day, would tell too much.

    :raises Problem: for a cursor or a page size that is none.
    :raises ImproperlyConfigured: for a queryset without a total order.
    """
    order = order_of(queryset)
    size = _size(request.query_params)
    shown = order if places is None else Order(order.fields[-1:], order.descending)
    backwards, place = _read_cursor(request.query_params.get("cursor"), queryset, shown)
    if place is not None and places is not None:
        place = _looked_up(places, order, place[-1])
    found = keyset_page(queryset, place=place, backwards=backwards, size=size)
    rows = found.rows
    return Page(
        rows,
        next=_link(request, shown, rows[-1], backwards=False) if found.has_next else None,
        previous=_link(request, shown, rows[0], backwards=True) if found.has_previous else None,
    )


def _looked_up(places: QuerySet[RowT], order: Order, key: Any) -> list[Any]:
    row = places.filter(**{order.fields[-1]: key}).first()
    if row is None:
        raise Problem("cursor_not_valid")
    return order.place_of(row)


def _size(parameters: QueryDict) -> int:
    text = parameters.get("page_size")
    if text is None:
        return DEFAULT_SIZE
    if not (text.isascii() and text.isdigit()) or not 1 <= int(text[:9]) <= LARGEST_SIZE:
        raise Problem("parameter_not_valid", faults=[Fault("/page_size", "out_of_range")])
    return int(text)


def _link(request: Request, order: Order, row: Model, *, backwards: bool) -> str:
    place = [str(value) for value in order.place_of(row)]
    text = json.dumps([int(backwards), *place], separators=(",", ":"))
    parameters = request.query_params.copy()
    parameters["cursor"] = base64.urlsafe_b64encode(text.encode()).decode().rstrip("=")
    return request.build_absolute_uri(f"{request.path}?{parameters.urlencode()}")


def _read_cursor(
    text: str | None, queryset: QuerySet[RowT], order: Order
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
