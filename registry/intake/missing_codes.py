"""Codes that a file names and nobody knows yet: added when a coordinator asked for it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from registry.access import audit
from registry.access.scope import Actor
from registry.caloric.visit import Visit
from registry.intake.checks.directory import Directory, State
from registry.intake.context import ClinicContext, directory_of
from registry.intake.store import insert_rows
from registry.models import Irrigator, Recorder, Tester
from registry.models.fields import new_id


@dataclass(frozen=True, slots=True)
class AssumeKnown:
    """A directory in which an unknown code is as good as a known one; an inactive one is not."""

    directory: Directory

    def tester_state(self, code: str, on: date) -> State:
        return _assumed(self.directory.tester_state(code, on))

    def irrigator_state(self, code: str, on: date) -> State:
        return _assumed(self.directory.irrigator_state(code, on))

    def recorder_state(self, code: str, on: date) -> State:
        return _assumed(self.directory.recorder_state(code, on))


def _assumed(state: State) -> State:
    return "ok" if state == "unknown" else state


def codes_create_missing(
    visits: Sequence[Visit], *, context: ClinicContext, by: Actor, at: datetime
) -> None:
    """Add the codes that these visits name and the clinic does not know, and note each."""
    directory = context.directory
    missing: dict[type[Tester] | type[Irrigator] | type[Recorder], set[str]] = {
        Tester: set(_tester_codes(visits)) - set(directory.testers),
        Irrigator: set(_irrigator_codes(visits)) - set(directory.irrigators),
        Recorder: {one.recorder for one in visits if one.recorder} - set(directory.recorders),
    }
    for model, codes in missing.items():
        rows = [
            {"clinic_id": context.clinic.pk, "id": new_id(), "code": code, "created_at": at}
            for code in sorted(codes)
        ]
        insert_rows(model, rows)
        for row in rows:
            audit.record(
                f"{model._meta.model_name}.created",
                by=by,
                at=at,
                clinic_id=context.clinic.pk,
                object_kind=str(model._meta.model_name),
                object_id=row["id"],
                detail={"by_upload": True},
            )
    if any(missing.values()):
        context.directory = directory_of(context.clinic)


def _tester_codes(visits: Iterable[Visit]) -> Iterable[str]:
    for visit in visits:
        yield visit.tester
        for one in visit.irrigations:
            yield from (code for code in (one.tester, one.peak_set_by) if code)


def _irrigator_codes(visits: Iterable[Visit]) -> Iterable[str]:
    for visit in visits:
        yield visit.irrigator
        yield from (one.irrigator for one in visit.irrigations if one.irrigator)
