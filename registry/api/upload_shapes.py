"""An uploaded file and what was wrong with its rows, as JSON Schema."""

from __future__ import annotations

from typing import Final

from registry.api.field_schemas import (
    Schema,
    identity,
    moment,
    nullable,
    object_of,
    text,
    whole,
    word_of,
    yes_no,
)
from registry.models.upload import POLICIES, STATES

COUNTS: Final = (
    "rows_total",
    "rows_done",
    "visits_created",
    "visits_unchanged",
    "visits_conflicting",
    "visits_refused",
)

_FORM: Final = object_of(
    {
        "file": text(
            "CSV, XLSX or NDJSON, gzip-compressed or not.",
            contentMediaType="application/octet-stream",
        ),
        "policy": word_of(POLICIES) | {"default": "keep_valid"},
        "create_missing": yes_no("Add codes that the clinic does not know (coordinator).")
        | {"default": False},
    },
    "A file of visits.",
    required=("file",),
)
_UPLOAD: Final = object_of(
    {
        "id": identity("The registry's own id."),
        "state": word_of(STATES),
        "policy": word_of(POLICIES),
        "create_missing": yes_no("Whether unknown codes are added."),
        **{name: whole("A count so far.", minimum=0) for name in COUNTS},
        "sha256": text("Of the bytes as they came.", pattern="^[0-9a-f]{64}$"),
        "size_bytes": whole("Of the file as it came.", minimum=0),
        "identifiers_found": yes_no("Something in it looked like an identifier: purge it."),
        "received_at": moment("When it came."),
        "finished_at": nullable(moment("When nothing was left to do.")),
        "undone_at": nullable(moment("When its visits were withdrawn.")),
    },
    "A file on its way into the registry.",
    required=("id", "state", *COUNTS, "sha256"),
)
_PROBLEM: Final = object_of(
    {
        "row": nullable(whole("Row of the file, from 1, the header included.")),
        "column": nullable(text("A known column, or the position of an unknown one.")),
        "code": text("A code of the catalogue."),
        "detail": text("The fixed sentence of the code."),
    },
    "One fault of one row; never what stood there.",
    required=("row", "column", "code", "detail"),
)
_UNDONE: Final = object_of(
    {"visits_withdrawn": whole("How many visits were withdrawn.")},
    "What was undone.",
    required=("visits_withdrawn",),
)

UPLOAD_SHAPES: Final[dict[str, Schema]] = {
    "UploadForm": _FORM,
    "Upload": _UPLOAD,
    "UploadProblem": _PROBLEM,
    "UploadProblemTable": text("The same fields, one problem a row (RFC 4180)."),
    "UploadUndone": _UNDONE,
}
