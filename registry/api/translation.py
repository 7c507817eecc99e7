"""The domain's errors, and the problem each one is answered with."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from registry.api.catalogue import ROSTER_DETAIL
from registry.api.problems import Entry, Problem, entry_of
from registry.intake.context import NoAgreement
from registry.intake.erase import SubjectNotFound
from registry.intake.faults import Fault
from registry.intake.readers import FileRefused
from registry.intake.submit import VersionMismatch, VisitConflict, VisitNotFound, VisitRefused
from registry.intake.uploads import UploadNotFound
from registry.roster.body import RosterRefused
from registry.roster.conflicts import CodeInUse
from registry.roster.devices import DeviceNotFound
from registry.roster.temperature_checks import CheckDiffers, CheckNotFound
from registry.roster.testers import TesterNotFound

_PLAIN: Final[dict[type[Exception], str]] = {
    NoAgreement: "no_agreement_in_force",
    SubjectNotFound: "not_found",
    VisitNotFound: "not_found",
    UploadNotFound: "not_found",
    TesterNotFound: "not_found",
    DeviceNotFound: "not_found",
    CheckNotFound: "not_found",
    VersionMismatch: "version_mismatch",
    CodeInUse: "code_in_use",
    CheckDiffers: "check_differs",
}


def answer_with(kinds: Mapping[type[Exception], str]) -> None:
    """Name the problems that another app's errors are answered with.

    The registry does not know that app; codes are keys of ``catalogue.PROBLEMS``.
    """
    _PLAIN.update(kinds)


def problem_of(error: Exception) -> Problem | None:
    """The problem that a domain error is answered with; ``None`` for any other error."""
    if isinstance(error, VisitRefused):
        return Problem("refused", faults=error.faults)
    if isinstance(error, RosterRefused):
        return Problem("refused", faults=error.faults, catalogue=ROSTER_DETAIL)
    if isinstance(error, VisitConflict):
        return _conflict(error)
    if isinstance(error, FileRefused):
        too_large = error.code in ("file_too_large", "unpacked_too_large")
        code = "body_too_large" if too_large else "file_refused"
        return Problem(code, entries=[_file_entry(error)])
    plain = next((code for kind, code in _PLAIN.items() if isinstance(error, kind)), None)
    return Problem(plain) if plain else None


def _conflict(error: VisitConflict) -> Problem:
    """With the id of the visit that stands in the way, which is the clinic's own."""
    return Problem(error.code, more={"visit_id": str(error.visit_id)} if error.visit_id else None)


def _file_entry(error: FileRefused) -> Entry:
    place = {"row": error.row, "column": error.column}
    return entry_of(Fault("", error.code)) | {
        name: value for name, value in place.items() if value is not None
    }
