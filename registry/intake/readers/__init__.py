"""Readers: bytes in, nested plain values out, with the place of each. They judge nothing."""

from registry.intake.readers.json_text import NotJson, parse_json
from registry.intake.readers.read import read_visits
from registry.intake.readers.record import FileRefused, Place, ReadLimits, Record
from registry.intake.readers.templates import long_header, table_schema, wide_header

__all__ = [
    "FileRefused",
    "NotJson",
    "Place",
    "ReadLimits",
    "Record",
    "long_header",
    "parse_json",
    "read_visits",
    "table_schema",
    "wide_header",
]
