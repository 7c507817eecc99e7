"""Bodies: strict JSON, and multipart forms, both no larger than allowed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import IO, Any

from django.conf import settings
from django.http import HttpRequest
from rest_framework.parsers import BaseParser, DataAndFiles, MultiPartParser

from registry.api.problems import Problem
from registry.intake.readers import NotJson, parse_json

# Boundaries and the small fields around a file.
FORM_ALLOWANCE_BYTES = 64 * 1024


class StrictJSONParser(BaseParser):
    """JSON that can be understood in one way only, up to ``JSON_MAX_BYTES``."""

    media_type = "application/json"

    def parse(
        self,
        stream: IO[Any],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        refuse_too_large(parser_context, settings.JSON_MAX_BYTES)
        # The declared length may be a lie: never read more than one byte over the limit.
        data = stream.read(settings.JSON_MAX_BYTES + 1)
        if len(data) > settings.JSON_MAX_BYTES:
            raise Problem("body_too_large")
        try:
            return parse_json(data)
        except NotJson as refused:
            raise Problem(refused.code) from None


class LimitedMultiPartParser(MultiPartParser):
    """A form with a file of at most ``UPLOAD_MAX_BYTES``, refused before it is read whole."""

    def parse(
        self,
        stream: IO[Any],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> DataAndFiles[Any, Any]:
        refuse_too_large(parser_context, settings.UPLOAD_MAX_BYTES + FORM_ALLOWANCE_BYTES)
        return super().parse(stream, media_type, parser_context)


def refuse_too_large(parser_context: Mapping[str, Any] | None, limit: int) -> None:
    """:raises Problem: if the declared length is over the limit; nothing is read then."""
    request = (parser_context or {}).get("request")
    declared = request.META.get("CONTENT_LENGTH", "") if request is not None else ""
    if declared.isdigit() and int(declared) > limit:
        raise Problem("body_too_large")


def refuse_stopped_upload(request: HttpRequest) -> None:
    """:raises Problem: if the upload handler stopped reading at the limit."""
    if getattr(request, "upload_too_large", False):
        raise Problem("body_too_large")
