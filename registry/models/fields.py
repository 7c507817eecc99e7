"""Small pieces that every model shares: codes, finite numbers, closed lists."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from typing import TYPE_CHECKING

from django.db import models
from django.db.models import Q

INFINITY = float("inf")


def new_id() -> uuid.UUID:
    """A fresh object id, all of it random (UUID version 4, RFC 9562).

    An id ordered by time would load faster, but it tells when a row came, and so about when a
    visit took place, to readers who may not know the day.
    """
    return uuid.uuid4()


if TYPE_CHECKING:
    # The stubs know these as generic; at run time they are not.
    CharField = models.CharField[str, str]
    FloatField = models.FloatField[float, float]
    OptionalText = models.CharField[str | None, str | None]
    OptionalNumber = models.FloatField[float | None, float | None]
else:
    CharField, FloatField = models.CharField, models.FloatField


class CodeField(CharField):
    """A short code, compared byte by byte so that order never depends on a server's locale."""

    def __init__(self, **kwargs: object) -> None:
        kwargs.setdefault("max_length", 40)
        kwargs.setdefault("db_collation", "C")
        super().__init__(**kwargs)  # type: ignore[arg-type]


class RealField(FloatField):
    """Single precision, for the beats: half the room, and finer than any eye tracker."""

    def db_type(self, connection: object) -> str:
        return "real"


def optional_word(max_length: int = 40) -> OptionalText:
    """A column for a word or code that may not have been recorded."""
    return CodeField(null=True, blank=True, max_length=max_length)  # type: ignore[misc,return-value]


def optional_number() -> OptionalNumber:
    return models.FloatField(null=True, blank=True)


def one_of(field: str, words: Iterable[str], *, name: str) -> models.CheckConstraint:
    """The column holds a word of the list, or nothing where it may be null."""
    return models.CheckConstraint(condition=Q(**{f"{field}__in": list(words)}), name=name)


def finite(*fields: str, name: str) -> models.CheckConstraint:
    """No infinity and, since NaN sorts above everything in PostgreSQL, no NaN either."""
    condition = Q()
    for field in fields:
        condition &= Q(**{f"{field}__gt": -INFINITY, f"{field}__lt": INFINITY})
    return models.CheckConstraint(condition=condition, name=name)


def between(field: str, low: float, high: float, *, name: str) -> models.CheckConstraint:
    return models.CheckConstraint(
        condition=Q(**{f"{field}__gte": low, f"{field}__lte": high}), name=name
    )
