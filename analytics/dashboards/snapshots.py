"""The snapshots of a network written: all at once at the end, so that nobody sees a half."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final
from uuid import UUID

from django.db import connection

from analytics.dashboards.about_clinic import clinic_content
from analytics.dashboards.about_irrigator import irrigator_content
from analytics.dashboards.about_measure import dots_of, measure_for_lead, measure_for_site
from analytics.dashboards.about_network import network_for_lead
from analytics.dashboards.about_retests import retests_for_lead
from analytics.dashboards.about_subject import Reader
from analytics.dashboards.about_tester import tester_content
from analytics.dashboards.figures.style import Json
from analytics.dashboards.sources import Source, read_pairs, read_source
from analytics.models import Snapshot
from analytics.rollups.refresh import WORKER
from registry.access.scope import clinic_scope
from registry.intake.store import insert_rows
from registry.models import Clinic, Network
from registry.models.fields import new_id

# A space of its own for advisory locks; the second number is the network.
_LOCK: Final = 7005
OF_SUBJECTS: Final = ("tester", "irrigator", "clinic")
_READERS: Final = {"lead": Reader(small_shown=False), "tester": Reader(small_shown=True)}


@dataclass(frozen=True, slots=True)
class Made:
    """One snapshot before it is written; ``content`` is JSON text."""

    name: str
    audience: str
    about: str
    clinics: list[int]
    content: str


def snapshots_make(
    network: Network, *, at: datetime, clinic_ids: Sequence[int] | None = None
) -> int:
    """Make a network's figures anew; how many snapshots were written.

    With ``clinic_ids`` only the figures of these clinics' testers and irrigators and of the
    clinics themselves, as after an upload; else everything. One transaction: readers see the old
    ones until all new ones are there. A network without clinics has none.
    """
    ids = list(Clinic.objects.filter(network=network).order_by("id").values_list("id", flat=True))
    if not ids:
        return 0
    wanted = ids if clinic_ids is None else sorted(set(ids) & set(clinic_ids))
    with clinic_scope(ids, by=WORKER):
        _alone(network)
        source = read_source(network, at=at)
        made = list(_of_subjects(source, set(wanted)))
        if clinic_ids is None:
            made += _of_network(source)
        _replace(network, wanted, made, source, at=at, everything=clinic_ids is None)
    return len(made)


def _alone(network: Network) -> None:
    """Wait for another worker that makes the same: two would write each row twice."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s, %s)", [_LOCK, network.pk])


def _of_network(source: Source) -> Iterator[Made]:
    every = source.clinic_ids
    yield _made("network", "lead", "", every, network_for_lead(source))
    yield _made("retests", "lead", "", every, retests_for_lead(read_pairs(every)))
    for name in source.testers.years:
        dots = dots_of(source, name)
        yield _made("measure", "lead", name, every, measure_for_lead(source, name, dots))
        for one in every:
            content = measure_for_site(source, name, dots, one)
            yield _made("measure", "site_lead", name, [one], content)


def _of_subjects(source: Source, wanted: set[int]) -> Iterator[Made]:
    for tester, clinic_id in _subjects(source, "tester", wanted):
        for audience, reader in _READERS.items():
            content = tester_content(source, tester, clinic_id, reader)
            yield _made("tester", audience, str(tester), [clinic_id], content)
    for irrigator, clinic_id in _subjects(source, "irrigator", wanted):
        content = irrigator_content(source, irrigator, clinic_id)
        yield _made("irrigator", "lead", str(irrigator), [clinic_id], content)
    for one in sorted(wanted):
        about = str(source.clinics[one].public_id)
        yield _made("clinic", "lead", about, [one], clinic_content(source, one))


def _subjects(source: Source, kind: str, wanted: set[int]) -> list[tuple[UUID, int]]:
    """Those with sums or a summary, by clinic."""
    of = source.testers if kind == "tester" else source.irrigators
    found: dict[Any, int] = dict(zip(of.tallies.testers, of.tallies.clinics.tolist(), strict=True))
    found |= {
        subject: row.clinic_id for (one, subject), row in source.summaries.items() if one == kind
    }
    return sorted((pair for pair in found.items() if pair[1] in wanted), key=_by_clinic)


def _by_clinic(pair: tuple[UUID, int]) -> tuple[int, str]:
    return pair[1], str(pair[0])


def _made(name: str, audience: str, about: str, clinics: list[int], content: Json) -> Made:
    # A number that is not finite would be refused here, not by a reader's browser.
    text = json.dumps(content, allow_nan=False, separators=(",", ":"))
    return Made(name, audience, about, clinics, text)


def _replace(
    network: Network,
    wanted: Sequence[int],
    made: Sequence[Made],
    source: Source,
    *,
    at: datetime,
    everything: bool,
) -> None:
    rows = Snapshot.objects.filter(network=network)
    if not everything:
        rows = rows.filter(name__in=OF_SUBJECTS, clinics__contained_by=list(wanted))
    rows.delete()
    insert_rows(
        Snapshot,
        [
            {
                "id": new_id(),
                "network_id": network.pk,
                "clinics": one.clinics,
                "name": one.name,
                "audience": one.audience,
                "about": one.about,
                "content": one.content,
                "built_at": at,
                "covers_until": source.until,
            }
            for one in made
        ],
    )
