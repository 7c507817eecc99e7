"""Work that must happen: outbox rows, keys that changed, and runs of recomputation."""

from __future__ import annotations

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from registry.models.fields import CodeField, one_of, optional_word
from registry.models.network import Network

OUTBOX_STATES = ("waiting", "running", "done", "parked")


class OutboxMessage(models.Model):
    """A piece of background work, written in the transaction that made it necessary.

    The broker is only a doorbell: a worker claims the row by a conditional update, renews
    ``lease_until`` while it works, and a sweep finds again what nobody holds.
    """

    id = models.BigAutoField(primary_key=True)
    task = CodeField(max_length=80)
    payload = models.JSONField()
    state = CodeField(default="waiting")
    attempts = models.PositiveSmallIntegerField(default=0)
    created_at = models.DateTimeField()
    lease_until = models.DateTimeField(null=True)
    finished_at = models.DateTimeField(null=True)
    parked_reason = optional_word(max_length=80)

    class Meta:
        constraints = [
            one_of("state", OUTBOX_STATES, name="outbox_state_known"),
            models.CheckConstraint(
                condition=Q(state="running", lease_until__isnull=False) | ~Q(state="running"),
                name="outbox_running_has_lease",
            ),
            models.CheckConstraint(
                condition=Q(state="parked", parked_reason__isnull=False) | ~Q(state="parked"),
                name="outbox_parked_has_reason",
            ),
        ]
        indexes = [
            models.Index(
                fields=["created_at", "id"],
                condition=Q(state__in=["waiting", "running"]),
                name="outbox_open",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.task} {self.state}"


class ChangedKey(models.Model):
    """A tester's or irrigator's month in which something changed; analytics reads and removes."""

    id = models.BigAutoField(primary_key=True)
    clinic_id = models.IntegerField()
    subject_of_change = CodeField()
    key_id = models.UUIDField()
    month = models.DateField()
    changed_at = models.DateTimeField()

    class Meta:
        constraints = [
            one_of("subject_of_change", ("tester", "irrigator"), name="changed_key_kind_known"),
        ]
        indexes = [models.Index(fields=["clinic_id", "id"], name="changed_key_order")]

    def __str__(self) -> str:
        return f"{self.subject_of_change} {self.month:%Y-%m}"


class RecomputeRun(models.Model):
    """One recomputation of stored results after a change of method or criteria.

    ``last_clinic_id`` and ``last_visit_id`` say how far it came, so that it goes on from
    there; ``summary`` says what changed and by how much, index by index.
    """

    id = models.BigAutoField(primary_key=True)
    network = models.ForeignKey(Network, on_delete=models.PROTECT, null=True, related_name="+")
    method_version = models.PositiveIntegerField()
    state = CodeField(default="waiting")
    clinics = ArrayField(models.IntegerField(), default=list)
    last_clinic_id = models.IntegerField(null=True)
    last_visit_id = models.UUIDField(null=True)
    visits_seen = models.PositiveIntegerField(default=0)
    visits_changed = models.PositiveIntegerField(default=0)
    summary = models.JSONField(default=dict)
    started_at = models.DateTimeField()
    started_by = models.TextField()
    finished_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            one_of("state", ("waiting", "running", "finished"), name="recompute_state_known"),
            models.CheckConstraint(
                condition=Q(state="finished", finished_at__isnull=False)
                | (~Q(state="finished") & Q(finished_at=None)),
                name="recompute_finished_has_time",
            ),
        ]

    def __str__(self) -> str:
        return f"recompute {self.pk}"
