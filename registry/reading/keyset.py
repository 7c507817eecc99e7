"""Pages of a list by a row's place: each row once on a whole walk, whatever is added meanwhile.

A place is the values of the list's order in one row, not a count of rows: a row added before
that place moves nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, Generic, TypeVar

from django.core.exceptions import ImproperlyConfigured
from django.db.models import Model, Q, QuerySet

# Each ends a list's order: no two rows of a list share it.
_UNIQUE: Final = ("id", "number", "visit_id")

RowT = TypeVar("RowT", bound=Model)


@dataclass(frozen=True, slots=True)
class Order:
    """Fields that are all ordered the same way, the last of them unique."""

    fields: tuple[str, ...]
    descending: bool

    def place_of(self, row: Model) -> list[Any]:
        return [getattr(row, field) for field in self.fields]


@dataclass(frozen=True, slots=True)
class KeysetPage(Generic[RowT]):
    """Some rows in the list's order, and whether there are more on either side."""

    rows: list[RowT]
    has_next: bool
    has_previous: bool


def order_of(queryset: QuerySet[RowT]) -> Order:
    """The total order of a list.

    :raises ImproperlyConfigured: if it has none, for then pages would skip and repeat rows.
    """
    names = [str(name) for name in queryset.query.order_by]
    descending = {name.startswith("-") for name in names}
    fields = tuple(name.removeprefix("-") for name in names)
    if not fields or fields[-1] not in _UNIQUE or len(descending) != 1:
        raise ImproperlyConfigured("A list is paged in one direction, by a unique field at last.")
    return Order(fields, descending.pop())


def keyset_page(
    queryset: QuerySet[RowT], *, place: Sequence[Any] | None, backwards: bool, size: int
) -> KeysetPage[RowT]:
    """The rows after ``place``, or before it when ``backwards``; from the start without one."""
    order = order_of(queryset)
    if place is not None:
        queryset = queryset.filter(_beyond(order, place, backwards=backwards))
    # One row more than asked for tells whether there are more.
    found = list((queryset.reverse() if backwards else queryset)[: size + 1])
    rows, has_more = found[:size], len(found) > size
    if backwards:
        rows.reverse()
    has_behind = place is not None
    return KeysetPage(
        rows=rows,
        has_next=bool(rows) and (has_behind if backwards else has_more),
        has_previous=bool(rows) and (has_more if backwards else has_behind),
    )


def _beyond(order: Order, place: Sequence[Any], *, backwards: bool) -> Q:
    lookup = "lt" if order.descending is not backwards else "gt"
    # The first field alone lets an index bound the search; the rest settles equal ones.
    condition = Q(**{f"{order.fields[0]}__{lookup}e": place[0]})
    strictly = Q(**{f"{order.fields[-1]}__{lookup}": place[-1]})
    for field, value in reversed(list(zip(order.fields[:-1], place[:-1], strict=True))):
        strictly = Q(**{f"{field}__{lookup}": value}) | (Q(**{field: value}) & strictly)
    return condition & strictly
