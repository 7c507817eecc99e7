"""The parts that the shapes of the consistency engine are made of."""

from __future__ import annotations

from typing import Final

from analytics.models.signal import NOTE_LENGTH
from registry.api.field_schemas import Schema, nullable, object_of, text, yes_no
from registry.intake.fields import Field


def day(about: str) -> Schema:
    return text(about, format="date")


def word(about: str, words: tuple[str, ...]) -> Schema:
    return text(about, enum=list(words))


def any_object(about: str) -> Schema:
    return {"type": "object", "description": about}


def all_of(properties: dict[str, Schema], about: str) -> Schema:
    """An object whose every field is always there."""
    return object_of(properties, about, required=properties)


def taken(fields: tuple[Field, ...], about: str) -> Schema:
    """A body to send, made from the fields that its check reads."""
    properties = {
        field.name: _field(field) if field.needed else nullable(_field(field)) for field in fields
    }
    needed = [field.name for field in fields if field.needed]
    return object_of(properties, about, required=needed, closed=True)


def _field(field: Field) -> Schema:
    if field.kind == "word":
        return word(field.about, field.words)
    if field.kind == "note":
        return text(field.about, maxLength=NOTE_LENGTH)
    return day(field.about)


CLINIC_CODE: Final = text("Code of the clinic.")
MONTH: Final = text("Month, YYYY-MM.", pattern="^[0-9]{4}-[0-9]{2}$")
COVERS: Final = nullable(day("The last day that the figures hold."))
STALE: Final = yes_no("The data moved after these figures were made; they follow by themselves.")
