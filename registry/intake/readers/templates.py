"""Blank templates and a published description of both tables, made from the columns."""

from __future__ import annotations

from typing import Any, Final

from registry.intake.fields import Field
from registry.intake.guard import CODE_PATTERN
from registry.intake.readers.columns import COLUMNS, Column, Shape

Json = dict[str, Any]

_TYPE: Final = {
    "code": "string",
    "word": "string",
    "words": "string",
    "number": "number",
    "whole": "integer",
    "yes_no": "boolean",
    "date": "date",
    "time": "datetime",
}


def long_header() -> list[str]:
    """Every column of the long table, in the order of the template."""
    return [column.name for column in COLUMNS["long"]]


def wide_header() -> list[str]:
    """Every column of the wide table, in the order of the template."""
    return [column.name for column in COLUMNS["wide"]]


def table_schema(shape: Shape) -> Json:
    """The table as a Frictionless Table Schema (version 1), units in UCUM."""
    schema: Json = {
        "fields": [_described(column) for column in COLUMNS[shape]],
        "missingValues": [""],
    }
    if shape == "wide":
        # The long table has no key of columns alone: an attempt left out counts as the first.
        schema["primaryKey"] = ["visit_ref"]
    return schema


def _described(column: Column) -> Json:
    field = column.field
    described: Json = {
        "name": column.name,
        "type": _TYPE[field.kind],
        "description": field.about,
        "constraints": _constraints(column),
    }
    if field.unit:
        described["unit"] = field.unit
    if field.kind == "yes_no":
        described |= {"trueValues": ["true"], "falseValues": ["false"]}
    if field.kind == "time":
        described["format"] = "%Y-%m-%dT%H:%M:%S%z"
    return described


def _constraints(column: Column) -> Json:
    field = column.field
    # A cell of a needed column may be blank where nothing was irrigated or a response is not
    # usable; what belongs to the visit may not.
    constraints: Json = {"required": column.needed and field.name != "peak_spv"}
    if field.kind == "word":
        constraints["enum"] = list(field.words)
    elif field.kind == "words":
        word = "|".join(field.words)
        constraints["pattern"] = rf"({word})(\|({word}))*"
    elif field.kind == "code":
        constraints["pattern"] = CODE_PATTERN
    return constraints | _range(field)


def _range(field: Field) -> Json:
    bounds = {"minimum": field.low, "maximum": field.high}
    return {name: bound for name, bound in bounds.items() if bound is not None}
