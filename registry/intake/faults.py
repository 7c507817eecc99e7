"""One thing wrong with one result, and where: the word that readers and checks share.

A fault never holds what was sent. A refused value may be the very name or date that must not
be kept, and a fault is stored, logged and shown.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, NamedTuple

IDENTIFIER_CODE: Final = "looks_like_identifier"


class Fault(NamedTuple):
    """Where and what.

    ``pointer`` is an RFC 6901 pointer into the visit; ``code`` is a key of
    ``checks.catalogue.DETAIL``. A field whose name is unknown is pointed at through its parent,
    and ``position`` is its place (from 1) among the parent's members.
    """

    pointer: str
    code: str
    position: int | None = None


def has_identifier(faults: Iterable[Fault]) -> bool:
    """Whether something that may name a person was sent, so that every trace must go."""
    return any(fault.code == IDENTIFIER_CODE for fault in faults)


def merge_faults(by_reader: Iterable[Fault], by_checks: Iterable[Fault]) -> list[Fault]:
    """All faults of a record, without the ones that only echo what the reader already said.

    A cell the reader could not read would be called missing or mistyped once more by the checks;
    a whole line it could not read would be called a visit without any of its fields.
    """
    first = list(by_reader)
    covered = {fault.pointer for fault in first}
    return first + [fault for fault in by_checks if not _is_under(fault.pointer, covered)]


def _is_under(pointer: str, covered: set[str]) -> bool:
    while covered:
        if pointer in covered:
            return True
        if not pointer:
            return False
        pointer = pointer.rpartition("/")[0]
    return False
