"""What a build found out about a network, and the figures it made for each subject."""

from __future__ import annotations

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from registry.models.fields import CodeField, new_id, one_of
from registry.models.network import Network

SUBJECT_KINDS = ("tester", "irrigator", "clinic")


class Build(models.Model):
    """One evaluation of a network up to the end of a month; it holds no clinic's row.

    ``parameters`` are the network's own centres and spreads by measure, as plain numbers.
    """

    id = models.BigAutoField(primary_key=True)
    network = models.ForeignKey(Network, on_delete=models.PROTECT, related_name="+")
    covers_until = models.DateField()
    built_at = models.DateTimeField()
    scores_version = models.PositiveSmallIntegerField()
    engine_version = models.PositiveSmallIntegerField()
    testers = models.PositiveIntegerField()
    clinics = models.PositiveIntegerField()
    visits = models.PositiveIntegerField()
    tests_made = models.PositiveIntegerField()
    parameters = models.JSONField()

    class Meta:
        indexes = [models.Index(fields=["network", "id"], name="build_latest")]

    def __str__(self) -> str:
        return f"{self.network_id} until {self.covers_until}"


class PatientMix(models.Model):
    """A network's patients: how scores move with age, sex and the like, and what visits look like.

    ``reference`` is what a usual visit's four responses are compared with; plain numbers.
    """

    id = models.BigAutoField(primary_key=True)
    network = models.ForeignKey(Network, on_delete=models.PROTECT, related_name="+")
    version = models.PositiveIntegerField()
    fitted_at = models.DateTimeField()
    visits = models.PositiveIntegerField()
    coefficients = models.JSONField()
    reference = models.JSONField(default=dict)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["network", "version"], name="mix_version_once"),
        ]

    def __str__(self) -> str:
        return f"{self.network_id} {self.version}"


class NetworkState(models.Model):
    """When a network's data last moved and when its figures last followed."""

    network = models.OneToOneField(
        Network, on_delete=models.PROTECT, primary_key=True, related_name="+"
    )
    data_changed_at = models.DateTimeField(null=True)
    refreshed_at = models.DateTimeField(null=True)
    built_at = models.DateTimeField(null=True)
    covers_until = models.DateField(null=True)

    def __str__(self) -> str:
        return str(self.network_id)


class SubjectSummary(models.Model):
    """The figures of one tester, irrigator or clinic, as its pages and the API show them."""

    pk = models.CompositePrimaryKey("clinic_id", "subject_kind", "subject_id")
    clinic_id = models.IntegerField()
    subject_kind = CodeField()
    subject_id = models.UUIDField()
    figures = models.JSONField(default=dict)
    # How it compares, as the last build found it.
    compared = models.JSONField(default=dict)
    build_id = models.BigIntegerField(null=True)
    built_at = models.DateTimeField(null=True)
    covers_until = models.DateField(null=True)
    # When the sums below these figures last moved; later than built_at: the figures are behind.
    moved_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [one_of("subject_kind", SUBJECT_KINDS, name="summary_kind_known")]

    def __str__(self) -> str:
        return f"{self.subject_kind} {self.subject_id}"


class Snapshot(models.Model):
    """A figure made ahead, for one audience: what a page shows, never computed on request.

    ``clinics`` are all whose rows went into it: the database shows it to nobody whose scope
    does not hold every one of them.
    """

    id = models.UUIDField(primary_key=True, default=new_id)
    network = models.ForeignKey(Network, on_delete=models.PROTECT, related_name="+")
    clinics = ArrayField(models.IntegerField())
    name = CodeField()
    audience = CodeField()
    # The measure, tester, irrigator or clinic it is about; empty for the network itself.
    about = CodeField(max_length=80)
    content = models.JSONField()
    built_at = models.DateTimeField()
    covers_until = models.DateField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["network", "name", "audience", "about", "clinics"], name="snapshot_once"
            ),
            models.CheckConstraint(condition=~Q(clinics=[]), name="snapshot_names_its_clinics"),
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.about}"
