"""What applies to a clinic's visits on a day: agreement, criteria, procedure, codes, checks."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta, tzinfo
from typing import Any
from uuid import UUID

from django.apps import AppConfig
from django.db.models import Q
from django.db.models.signals import post_migrate
from django.utils import timezone

from registry.caloric.compute import Job
from registry.caloric.criteria import DEFAULT_CRITERIA, CriteriaSet
from registry.caloric.equipment import TemperatureReading
from registry.caloric.procedure import Procedure
from registry.caloric.visit import Visit
from registry.intake.checks.directory import State
from registry.models import (
    Clinic,
    Irrigator,
    Network,
    NetworkAgreement,
    Recorder,
    TemperatureCheck,
    Tester,
)
from registry.models import CriteriaSet as CriteriaRow

ONE_DAY = timedelta(days=1)


class NoAgreement(Exception):
    """The clinic's network has no agreement in force on that day: nothing is accepted."""


@dataclass(frozen=True, slots=True)
class Span:
    """A code's row and the days on which it was active (None: open)."""

    id: UUID
    start: date | None
    end: date | None

    def covers(self, on: date) -> bool:
        return (self.start is None or self.start <= on) and (self.end is None or on <= self.end)


Spans = dict[str, list[Span]]
DayIds = tuple[dict[str, UUID], dict[str, UUID], dict[str, UUID]]


@dataclass(slots=True)
class ClinicDirectory:
    """The clinic's codes with their life cycles; answers the checks and finds ids.

    A code may stand for several devices, one after the other: a reused label is a new device.
    """

    testers: Spans
    irrigators: Spans
    recorders: Spans
    _on_day: dict[date, DayIds] = field(default_factory=dict)

    def tester_state(self, code: str, on: date) -> State:
        return _state(self.testers, code, on)

    def irrigator_state(self, code: str, on: date) -> State:
        return _state(self.irrigators, code, on)

    def recorder_state(self, code: str, on: date) -> State:
        return _state(self.recorders, code, on)

    def ids_on(self, on: date) -> tuple[dict[str, UUID], dict[str, UUID], dict[str, UUID]]:
        """Ids by code of the testers, irrigators and recorders active on a day."""
        testers, irrigators, recorders = (
            {code: span.id for code, spans in kind.items() for span in spans if span.covers(on)}
            for kind in (self.testers, self.irrigators, self.recorders)
        )
        return testers, irrigators, recorders


def _state(kind: Spans, code: str, on: date) -> State:
    spans = kind.get(code)
    if not spans:
        return "unknown"
    return "ok" if any(span.covers(on) for span in spans) else "inactive"


def directory_of(clinic: Clinic) -> ClinicDirectory:
    return ClinicDirectory(
        testers=_spans(
            Tester.objects.filter(clinic=clinic).values_list(
                "code", "id", "active_from", "active_to"
            )
        ),
        irrigators=_device_spans(Irrigator, clinic),
        recorders=_device_spans(Recorder, clinic),
    )


def _device_spans(model: type[Irrigator] | type[Recorder], clinic: Clinic) -> Spans:
    rows: Iterable[tuple[str, UUID, date | None, date | None]]
    rows = model._default_manager.filter(clinic=clinic).values_list(
        "code", "id", "in_service_from", "retired_at"
    )
    return _spans(rows)


def _spans(rows: Iterable[tuple[str, UUID, date | None, date | None]]) -> Spans:
    spans: Spans = defaultdict(list)
    # The row that started first comes first, so that on a day two share the newer one wins.
    for code, id_, start, end in sorted(rows, key=lambda row: (row[2] or date.min, str(row[1]))):
        spans[code].append(Span(id_, start, end))
    return dict(spans)


@dataclass(frozen=True, slots=True)
class ReadingSeries:
    """The readings of one irrigator at one stimulus and set temperature, in order of time."""

    moments: list[datetime]
    readings: list[TemperatureReading]

    def around(self, start: datetime, end: datetime) -> list[TemperatureReading]:
        """The readings between two moments, with the last before and the first after."""
        first = max(bisect_left(self.moments, start) - 1, 0)
        last = bisect_right(self.moments, end) + 1
        return self.readings[first:last]


@dataclass(slots=True, kw_only=True)
class ClinicContext:
    """Read once for a request or a file, then used for every visit of it."""

    clinic: Clinic
    criteria: CriteriaSet
    criteria_set_id: int
    procedure: Procedure
    zone: tzinfo
    directory: ClinicDirectory
    visit_defaults: Mapping[str, Any]
    # By irrigator id: a label used again is a new device, and knows nothing of the old one.
    checks: Mapping[UUID, list[ReadingSeries]]

    def checks_for(self, visit: Visit, irrigators: Mapping[str, UUID]) -> list[TemperatureReading]:
        """The readings of the visit's irrigators around its day, nearest before and after too."""
        used = {visit.irrigator, *(one.irrigator for one in visit.irrigations if one.irrigator)}
        started = [one.started_at for one in visit.irrigations if one.started_at]
        day = datetime.combine(visit.visit_date, time.min, tzinfo=self.zone)
        # A start may lie a day beside the visit's date, and its readings with it.
        start, end = min([day, *started]), max([day + ONE_DAY, *started])
        return [
            reading
            for code in sorted(used)
            for series in self.checks.get(irrigators[code], ())
            for reading in series.around(start, end)
        ]

    def job(self, visit: Visit, irrigators: Mapping[str, UUID] | None = None) -> Job:
        """The visit with the rules it is computed by.

        ``irrigators`` are the ids by code of a stored visit; of a new one, those of its day.
        """
        if irrigators is None:
            _, irrigators, _ = self.directory.ids_on(visit.visit_date)
        return Job(
            visit=visit,
            criteria=self.criteria,
            procedure=self.procedure,
            checks=self.checks_for(visit, irrigators),
            tz=self.zone,
        )


def procedure_of(clinic: Clinic) -> Procedure:
    """The network's settings with the clinic's own over them."""
    return Procedure.from_json({**clinic.network.procedure, **clinic.procedure})


def clinic_context(clinic: Clinic, *, at: datetime) -> ClinicContext:
    """Everything about a clinic that its visits are checked and computed with."""
    row = criteria_row(clinic.network, at=at)
    return ClinicContext(
        clinic=clinic,
        criteria=CriteriaSet.from_json(row.content),
        criteria_set_id=row.pk,
        procedure=procedure_of(clinic),
        zone=clinic.zone(),
        directory=directory_of(clinic),
        visit_defaults=clinic.visit_defaults,
        checks=_checks_of(clinic),
    )


def criteria_row(network: Network, *, at: datetime) -> CriteriaRow:
    """The criteria set that a network uses: its own, or the default one."""
    return network.criteria_set or default_criteria_row(at=at)


def default_criteria_row(*, at: datetime, using: str = "default") -> CriteriaRow:
    row, _ = CriteriaRow.objects.using(using).get_or_create(
        network=None,
        name=DEFAULT_CRITERIA.name,
        version=DEFAULT_CRITERIA.version,
        defaults={
            "content": DEFAULT_CRITERIA.to_json(),
            "created_at": at,
            "created_by": "registry",
        },
    )
    return row


def connect_signals() -> None:
    post_migrate.connect(_default_criteria_after_migrate, dispatch_uid="default_criteria")


def _default_criteria_after_migrate(*, using: str, app_config: AppConfig, **_: object) -> None:
    # Not at the first visit: the first file of a network would then hold up every other one,
    # which would wait for its transaction to end to see whether the set is there.
    if using == "owner" and app_config.name == "registry":
        default_criteria_row(at=timezone.now(), using=using)


def check_agreement(clinic: Clinic, *, on: date) -> None:
    """:raises NoAgreement: unless the network's agreement is in force on that day."""
    in_force = NetworkAgreement.objects.filter(
        Q(in_force_to=None) | Q(in_force_to__gte=on),
        network_id=clinic.network_id,
        in_force_from__lte=on,
    )
    if not in_force.exists():
        raise NoAgreement


def _checks_of(clinic: Clinic) -> dict[UUID, list[ReadingSeries]]:
    rows = (
        TemperatureCheck.objects.filter(clinic_id=clinic.pk, withdrawn_at=None)
        .order_by("checked_at", "id")
        .values_list(
            "irrigator_id",
            "irrigator__code",
            "checked_at",
            "stimulus",
            "set_temperature_c",
            "within_tolerance",
        )
    )
    series: dict[tuple[UUID, str, float], ReadingSeries] = defaultdict(
        lambda: ReadingSeries([], [])
    )
    for irrigator_id, code, checked_at, stimulus, temperature, within in rows:
        one = series[irrigator_id, stimulus, temperature]
        one.moments.append(checked_at)
        one.readings.append(TemperatureReading(code, checked_at, stimulus, temperature, within))
    by_irrigator: dict[UUID, list[ReadingSeries]] = defaultdict(list)
    for (irrigator_id, _, _), one in series.items():
        by_irrigator[irrigator_id].append(one)
    return dict(by_irrigator)
