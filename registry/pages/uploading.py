"""Refuse a file over the limit while it is still coming in, not after it was kept."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.files.uploadhandler import (
    FileUploadHandler,
    StopUpload,
    TemporaryFileUploadHandler,
)


class LimitedUploadHandler(FileUploadHandler):
    """Count the bytes of all files of a request; stop reading at ``UPLOAD_MAX_BYTES``.

    ``request.upload_too_large`` is then true, and the view answers 413.
    """

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        super().new_file(*args, **kwargs)
        self._seen = getattr(self, "_seen", 0)

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes:
        self._seen += len(raw_data)
        if self._seen > settings.UPLOAD_MAX_BYTES:
            if self.request is not None:
                self.request.upload_too_large = True  # type: ignore[attr-defined]
            raise StopUpload(connection_reset=False)
        return raw_data

    def file_complete(self, file_size: int) -> None:
        return None


class NamelessFileUploadHandler(TemporaryFileUploadHandler):
    """Keep the bytes on disk without the name they came under.

    Django would end the temporary file's name as the sent one ends, which is free text.
    """

    def new_file(self, field_name: str, file_name: str, *args: Any, **kwargs: Any) -> None:
        super().new_file(field_name, "upload", *args, **kwargs)
