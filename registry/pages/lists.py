"""Older and newer pages of a list in a total order, found by the row they continue from.

The cursor is a row's id and nothing else: a date in it would tell a reader of the reduced view
the day of a visit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Generic, TypeVar
from uuid import UUID

from django.db.models import Model, QuerySet
from django.http import Http404, QueryDict

from registry.reading.keyset import keyset_page, order_of

SIZE: Final = 50
RowT = TypeVar("RowT", bound=Model)


@dataclass(frozen=True, slots=True)
class ListPage(Generic[RowT]):
    """The rows, and the query strings of the pages around them (empty: there is none)."""

    rows: list[RowT]
    newer: str
    older: str


def list_page(
    queryset: QuerySet[RowT], query: QueryDict, *, places: QuerySet[RowT] | None = None
) -> ListPage[RowT]:
    """The page asked for by ``before=<id>`` or ``after=<id>``, newest first.

    ``places`` are the rows a cursor may name: wider than ``queryset`` where a filter may have
    hidden the row meanwhile.

    :raises Http404: if the cursor names no row that this reader may see.
    """
    row, backwards = _place(queryset if places is None else places, query)
    place = None if row is None else order_of(queryset).place_of(row)
    found = keyset_page(queryset, place=place, backwards=backwards, size=SIZE)
    rows = found.rows
    return ListPage(
        rows=rows,
        newer=_query(query, "after", rows[0]) if found.has_previous else "",
        older=_query(query, "before", rows[-1]) if found.has_next else "",
    )


def _place(queryset: QuerySet[RowT], query: QueryDict) -> tuple[RowT | None, bool]:
    text, backwards = query.get("before"), False
    if text is None:
        text, backwards = query.get("after"), True
    if text is None:
        return None, False
    try:
        row = queryset.filter(id=UUID(text)).first()
    except ValueError:
        raise Http404 from None
    if row is None:
        raise Http404
    return row, backwards


def _query(query: QueryDict, name: str, row: Any) -> str:
    kept = query.copy()
    kept.pop("before", None)
    kept.pop("after", None)
    kept[name] = str(row.id)
    return kept.urlencode()
