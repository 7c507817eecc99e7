"""Older and newer pages of a list in a total order, found by the row they continue from.

The cursor is a row's id and nothing else: a date in it would tell a reader of the reduced view
the day of a visit. A row added before the place moves nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Generic, TypeVar
from uuid import UUID

from django.db.models import Model, Q, QuerySet
from django.http import Http404, QueryDict

SIZE: Final = 50
RowT = TypeVar("RowT", bound=Model)


@dataclass(frozen=True, slots=True)
class ListPage(Generic[RowT]):
    """The rows, and the query strings of the pages around them (empty: there is none)."""

    rows: list[RowT]
    newer: str
    older: str


def list_page(
    queryset: QuerySet[RowT], query: QueryDict, *, by: str, places: QuerySet[RowT] | None = None
) -> ListPage[RowT]:
    """The page asked for by ``before=<id>`` or ``after=<id>``, newest first.

    ``queryset`` is ordered by ``-by, -id``. ``places`` are the rows a cursor may name: wider than
    ``queryset`` where a filter may have hidden the row meanwhile.

    :raises Http404: if the cursor names no row that this reader may see.
    """
    place, backwards = _place(queryset if places is None else places, query)
    rows = queryset
    if place is not None:
        rows = rows.filter(_beyond(by, getattr(place, by), place.id, newer=backwards))  # type: ignore[attr-defined]
    found = list((rows.reverse() if backwards else rows)[: SIZE + 1])
    shown, has_more = found[:SIZE], len(found) > SIZE
    if backwards:
        shown.reverse()
    has_newer = has_more if backwards else place is not None
    has_older = has_more or backwards
    return ListPage(
        rows=shown,
        newer=_query(query, "after", shown[0]) if shown and has_newer else "",
        older=_query(query, "before", shown[-1]) if shown and has_older else "",
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


def _beyond(by: str, value: Any, id_: UUID, *, newer: bool) -> Q:
    lookup = "gt" if newer else "lt"
    return Q(**{f"{by}__{lookup}": value}) | Q(**{by: value, f"id__{lookup}": id_})


def _query(query: QueryDict, name: str, row: Any) -> str:
    kept = query.copy()
    kept.pop("before", None)
    kept.pop("after", None)
    kept[name] = str(row.id)
    return kept.urlencode()
