"""Answers as CSV (RFC 4180), for the lists that people open in a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from typing import Any

from rest_framework.renderers import BaseRenderer


class CSVRenderer(BaseRenderer):
    """Rows, each a dict with the same names, as CSV with a header.

    Made whole before the transaction ends: a streamed body would be written after it, without
    a scope and so without rows.
    """

    media_type = "text/csv"
    format = "csv"
    charset = "utf-8"

    def render(
        self,
        data: Any,
        accepted_media_type: str | None = None,
        renderer_context: Mapping[str, Any] | None = None,
    ) -> str:
        out = io.StringIO()
        writer = csv.DictWriter(out, fieldnames=list(data["columns"]), lineterminator="\r\n")
        writer.writeheader()
        writer.writerows(data["rows"])
        return out.getvalue()
