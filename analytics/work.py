"""Background work of analytics: figures follow their data, networks are evaluated in time.

Every piece is an outbox row first. Looking costs little, so it is done often: changed keys that
have settled make a refresh of their clinic, and a network whose figures moved, or whose last
complete month has changed, is evaluated. While a row for the same place is open no second is
added.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import Any, Final

from django.conf import settings
from django.db.models import Max, Min, Sum

from analytics.builds.build import last_complete_month, network_build
from analytics.dashboards.snapshots import snapshots_make
from analytics.look_backs.find import look_backs_refresh
from analytics.models import Cell, NetworkState, PatientMix
from analytics.rollups.mix import FEWEST_VISITS, MixSums, mix_latest, mix_store
from analytics.rollups.rebuild import clinic_all_facts, clinic_mark_all
from analytics.rollups.refresh import WORKER, clinic_refresh_chunk, summaries_behind
from analytics.rollups.stand_outs import UsualVisits
from analytics.summaries.write import summaries_refresh
from registry import outbox
from registry.access.scope import clinic_scope
from registry.models import ChangedKey, Clinic, Network, OutboxMessage

REFRESH: Final = "analytics.refresh_clinic"
BUILD: Final = "analytics.build_network"
FIT_MIX: Final = "analytics.fit_mix"
# Patients change slowly: a year's coefficients serve.
MIX_LASTS: Final = timedelta(days=365)
SLICE: Final = timedelta(seconds=60)
# A stream of single visits must not keep figures waiting for ever.
LONGEST_WAIT: Final = 12
SUMMARIES_AT_ONCE: Final = 50

Clock = Callable[[], datetime]


def look(*, at: datetime) -> int:
    """Add the work that has become necessary; how many rows were added."""
    added = 0
    for clinic in Clinic.objects.order_by("id"):
        if _settled(clinic.pk, at):
            added += _add_once(REFRESH, {"clinic_id": clinic.pk}, at=at)
    for network in Network.objects.order_by("id"):
        if _mix_due(network, at):
            added += _add_once(FIT_MIX, {"network_id": network.pk}, at=at)
        elif _build_due(network, at):
            added += _add_once(BUILD, {"network_id": network.pk}, at=at)
    return added


def refresh_clinic(payload: dict[str, Any], *, clock: Clock) -> bool:
    """Sum what changed at a clinic, then write the figures that are behind; True when done."""
    clinic_id, start = payload["clinic_id"], clock()
    while clinic_refresh_chunk(clinic_id, at=clock()).more:
        if clock() - start > SLICE:
            return False
    look_backs_refresh(clinic_id, at=clock())
    while summaries_refresh(clinic_id, at=clock(), limit=SUMMARIES_AT_ONCE):
        if clock() - start > SLICE:
            return False
    return True


def build_network(payload: dict[str, Any], *, clock: Clock) -> bool:
    """Evaluate a network and make its figures; True: it is done at once."""
    network = Network.objects.get(pk=payload["network_id"])
    if network_build(network, at=clock()) is not None:
        snapshots_make(network, at=clock())
    return True


def fit_mix(payload: dict[str, Any], *, clock: Clock) -> bool:
    """Fit the patients' mix of a network anew and mark all its sums to be made with it."""
    network = Network.objects.get(pk=payload["network_id"])
    clinics = list(Clinic.objects.filter(network=network).order_by("id"))
    sums, usual = MixSums(), UsualVisits()
    for clinic in clinics:
        with clinic_scope([clinic.pk], by=WORKER):
            for rows in clinic_all_facts(clinic.pk):
                sums.add(rows)
                usual.add(rows)
    mix_store(network, sums, reference=usual.reference(), at=clock())
    for clinic in clinics:
        clinic_mark_all(clinic.pk, at=clock())
    return True


def network_rebuild(network: Network, *, clock: Clock) -> None:
    """Everything of a network from its visits: the mix, all sums, all figures, an evaluation.

    For a command; workers do the same by a mark of every key and a look, clinic by clinic, any
    number of them side by side.
    """
    fit_mix({"network_id": network.pk}, clock=clock)
    for clinic in Clinic.objects.filter(network=network).order_by("id"):
        while not refresh_clinic({"clinic_id": clinic.pk}, clock=clock):
            continue
    build_network({"network_id": network.pk}, clock=clock)


def _settled(clinic_id: int, at: datetime) -> bool:
    """Whether changes wait here and have settled, or have waited long enough."""
    with clinic_scope([clinic_id], by=WORKER):
        keys = ChangedKey.objects.filter(clinic_id=clinic_id)
        waiting = keys.aggregate(first=Min("changed_at"), last=Max("changed_at"))
        behind = waiting["last"] is None and summaries_behind(clinic_id) > 0
    settle = timedelta(seconds=settings.ANALYTICS_SETTLE_SECONDS)
    if waiting["last"] is None:
        return behind
    return bool(at - waiting["last"] >= settle or at - waiting["first"] >= LONGEST_WAIT * settle)


def _build_due(network: Network, at: datetime) -> bool:
    """A month has ended since the last evaluation, or its data moved and the pause is over."""
    state = NetworkState.objects.filter(network=network).first()
    if state is None or state.data_changed_at is None or _sums_of_two_mixes(network):
        return False
    if state.built_at is None:
        return True
    pause = timedelta(seconds=settings.ANALYTICS_BUILD_SECONDS)
    if state.data_changed_at > state.built_at and at - state.built_at >= pause:
        return True
    days = [clinic.local_date(at) for clinic in Clinic.objects.filter(network=network)]
    return state.covers_until is None or last_complete_month(min(days)) > state.covers_until


def _mix_due(network: Network, at: datetime) -> bool:
    """Enough visits for a first fit, or a fit that is a year old."""
    newest = PatientMix.objects.filter(network=network).order_by("-version").first()
    if newest is not None:
        return at - newest.fitted_at >= MIX_LASTS
    with _whole_network(network) as clinic_ids:
        cells = Cell.objects.filter(clinic_id__in=clinic_ids)
        visits = cells.aggregate(visits=Sum("visits"))["visits"]
    return (visits or 0) >= FEWEST_VISITS


def _sums_of_two_mixes(network: Network) -> bool:
    """Whether sums are still being made with new coefficients: then an evaluation waits."""
    newest = mix_latest(network.pk).version
    with _whole_network(network) as clinic_ids:
        others = Cell.objects.filter(clinic_id__in=clinic_ids).exclude(mix_version=newest)
        return others.exists()


@contextmanager
def _whole_network(network: Network) -> Iterator[list[int]]:
    ids = list(Clinic.objects.filter(network=network).values_list("id", flat=True))
    with clinic_scope(ids, by=WORKER):
        yield ids


def _add_once(task: str, payload: dict[str, Any], *, at: datetime) -> int:
    """Add the row unless one for the same place waits or runs."""
    open_rows = OutboxMessage.objects.filter(
        task=task, payload=payload, state__in=("waiting", "running")
    )
    if open_rows.exists():
        return 0
    outbox.add(task, payload, at=at)
    return 1
