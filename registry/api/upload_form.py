"""The multipart form of an upload, read strictly."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, BinaryIO, Final, cast

from django.core.files.uploadedfile import UploadedFile
from rest_framework.request import Request

from registry.api.parsing import refuse_stopped_upload
from registry.api.problems import Problem
from registry.intake.faults import Fault
from registry.models.upload import POLICIES

_YES_NO: Final = {"true": True, "false": False}
_FIELDS: Final = ("file", "policy", "create_missing")


@dataclass(frozen=True, slots=True)
class UploadForm:
    file: BinaryIO
    policy: str
    create_missing: bool


def read_form(request: Request, *, may_create_missing: bool) -> UploadForm:
    """The parts of the form.

    :raises Problem: too large, no file, an unknown part or option; ``not_allowed`` where codes
        may not be added by this role.
    """
    form = cast("dict[str, Any]", request.data)
    refuse_stopped_upload(request._request)
    faults = [
        Fault("", "unknown_field", position)
        for position, name in enumerate(form, 1)
        if name not in _FIELDS
    ]
    file = form.get("file")
    if not isinstance(file, UploadedFile):
        faults.append(Fault("/file", "file_needed"))
    policy = form.get("policy", "keep_valid")
    if policy not in POLICIES:
        faults.append(Fault("/policy", "not_in_list"))
    create_missing = _YES_NO.get(form.get("create_missing", "false"))
    if create_missing is None:
        faults.append(Fault("/create_missing", "not_true_or_false"))
    if faults or not isinstance(file, UploadedFile):
        raise Problem("refused", faults=faults)
    if create_missing and not may_create_missing:
        raise Problem("not_allowed")
    return UploadForm(cast(BinaryIO, file), policy, bool(create_missing))
