"""What was: superseded versions, tombstones, and the audit trail."""

from __future__ import annotations

from django.db import models

from registry.models.clinic import Clinic
from registry.models.fields import CodeField, one_of


class RowVersion(models.Model):
    """A row as it stood before it was changed or deleted, written by a statement trigger.

    Triggers, not the application, write here, so that a bulk update cannot slip past. All
    rows superseded in one transaction carry the same ``superseded_at``.
    """

    pk = models.CompositePrimaryKey("clinic_id", "id")
    clinic_id = models.IntegerField()
    id = models.BigIntegerField()
    table_name = CodeField(max_length=63)
    operation = CodeField()
    visit_id = models.UUIDField(null=True)
    subject_id = models.UUIDField(null=True)
    superseded_at = models.DateTimeField()
    superseded_by = models.TextField()
    request_id = models.TextField()
    content = models.JSONField()

    class Meta:
        constraints = [one_of("operation", ("UPDATE", "DELETE"), name="row_version_operation")]
        indexes = [
            models.Index(fields=["clinic_id", "visit_id", "id"], name="row_version_by_visit"),
        ]

    def __str__(self) -> str:
        return f"{self.table_name} {self.superseded_at:%Y-%m-%d}"


class Tombstone(models.Model):
    """A keyed digest of what was erased, so that sending it again cannot bring it back."""

    pk = models.CompositePrimaryKey("clinic_id", "digest")
    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    digest = models.BinaryField()
    kind = CodeField()
    key_number = models.PositiveSmallIntegerField()
    erased_at = models.DateTimeField()

    class Meta:
        constraints = [one_of("kind", ("subject", "visit"), name="tombstone_kind_known")]

    def __str__(self) -> str:
        return f"{self.kind} {self.erased_at:%Y-%m-%d}"


class AuditEvent(models.Model):
    """Who did what and when. Text, not foreign keys, so that nothing ever changes it later."""

    id = models.BigAutoField(primary_key=True)
    at = models.DateTimeField()
    clinic_id = models.IntegerField(null=True)
    actor = models.TextField()
    role = models.TextField()
    request_id = models.TextField()
    action = CodeField(max_length=60)
    object_kind = CodeField()
    object_id = models.TextField()
    # Names of fields and counts, never their content.
    detail = models.JSONField(default=dict)

    class Meta:
        indexes = [models.Index(fields=["clinic_id", "at", "id"], name="audit_page_order")]

    def __str__(self) -> str:
        return f"{self.action} {self.at:%Y-%m-%d}"
