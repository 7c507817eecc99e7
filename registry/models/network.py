"""A network of clinics, the agreement it works under, and its criteria sets."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import F, Q

from registry.models.fields import CodeField


class Network(models.Model):
    """Clinics that share one lead audiologist's view, one agreement and one set of criteria."""

    id = models.AutoField(primary_key=True)
    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    code = CodeField(unique=True)
    name = models.TextField()
    # Overrides of the procedure defaults (``registry.caloric.procedure``), by field name.
    procedure = models.JSONField(default=dict)
    criteria_set = models.ForeignKey(
        "CriteriaSet", on_delete=models.PROTECT, null=True, related_name="used_by"
    )

    def __str__(self) -> str:
        return self.code


class NetworkAgreement(models.Model):
    """What allows a network to keep results here. Without one in force nothing is accepted."""

    network = models.ForeignKey(Network, on_delete=models.PROTECT, related_name="agreements")
    controller = models.TextField()
    legal_basis = models.TextField()
    terms = models.TextField()
    contact = models.TextField()
    in_force_from = models.DateField()
    in_force_to = models.DateField(null=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.TextField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(in_force_to=None) | Q(in_force_to__gte=F("in_force_from")),
                name="agreement_ends_after_it_starts",
            ),
            models.CheckConstraint(
                condition=~Q(controller="") & ~Q(legal_basis="") & ~Q(terms="") & ~Q(contact=""),
                name="agreement_is_complete",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.network_id} from {self.in_force_from}"


class CriteriaSet(models.Model):
    """A named, versioned set of limits. Never edited: a change is a new version."""

    network = models.ForeignKey(
        Network, on_delete=models.PROTECT, null=True, related_name="criteria_sets"
    )
    name = CodeField()
    version = models.PositiveIntegerField()
    content = models.JSONField()
    created_at = models.DateTimeField()
    created_by = models.TextField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["network", "name", "version"],
                name="criteria_set_version_once",
                nulls_distinct=False,
            ),
            models.CheckConstraint(condition=Q(version__gte=1), name="criteria_set_version_from_1"),
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.version}"
