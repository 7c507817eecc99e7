"""Checks of one visit: plain JSON values in, a ``Visit`` or every fault at once out."""

from registry.intake.checks.canonical import content_digest, visit_to_json
from registry.intake.checks.catalogue import DETAIL, docs_table
from registry.intake.checks.directory import AnyCode, Directory, KnownCodes
from registry.intake.checks.run import check_visit
from registry.intake.faults import Fault, has_identifier, merge_faults

__all__ = [
    "DETAIL",
    "AnyCode",
    "Directory",
    "Fault",
    "KnownCodes",
    "check_visit",
    "content_digest",
    "docs_table",
    "has_identifier",
    "merge_faults",
    "visit_to_json",
]
