"""Indices without storing anything: for trying a visit out before it is sent."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from registry.caloric.compute import Computed, Job, compute_visits
from registry.caloric.criteria import CriteriaSet
from registry.caloric.procedure import Procedure
from registry.caloric.visit import Visit
from registry.intake.checks import AnyCode, Fault, check_visit
from registry.intake.context import criteria_row, procedure_of
from registry.intake.submit import VisitRefused
from registry.models import Clinic

MOST_VISITS = 10_000


def indices_of(data: object, *, clinic: Clinic | None, at: datetime) -> Computed:
    """Everything that is computed of one visit, by the clinic's own criteria where there is one.

    Nothing is known here of codes or temperature checks, so nothing is said of them.

    :raises VisitRefused: with every fault at once.
    """
    return indices_of_many([data], clinic=clinic, at=at, single=True)[0]


def indices_of_many(
    bodies: Sequence[object], *, clinic: Clinic | None, at: datetime, single: bool = False
) -> list[Computed]:
    """The same for a list, in order; pointers then begin with the place in the list.

    :raises VisitRefused: with the faults of all of them.
    """
    visits: list[Visit] = []
    faults: list[Fault] = []
    today = clinic.local_date(at) if clinic else at.date()
    for position, body in enumerate(bodies):
        visit, found = check_visit(body, directory=AnyCode(), today=today, reduced=True)
        prefix = "" if single else f"/{position}"
        faults += [fault._replace(pointer=prefix + fault.pointer) for fault in found]
        if visit is not None:
            visits.append(visit)
    if faults:
        raise VisitRefused(faults)
    return compute_visits(_jobs(visits, clinic, at))


def _jobs(visits: Sequence[Visit], clinic: Clinic | None, at: datetime) -> list[Job]:
    if clinic is None:
        return [Job(visit=visit) for visit in visits]
    criteria = CriteriaSet.from_json(criteria_row(clinic.network, at=at).content)
    procedure: Procedure = procedure_of(clinic)
    zone = clinic.zone()
    return [Job(visit=visit, criteria=criteria, procedure=procedure, tz=zone) for visit in visits]
