"""A file that a clinic sent, and what was wrong with its rows."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from registry.models.clinic import Clinic
from registry.models.fields import CodeField, new_id, one_of

STATES = ("received", "reading", "storing", "finished", "refused", "failed", "cancelled")
POLICIES = ("keep_valid", "all_or_nothing")


class Upload(models.Model):
    """Its identity is (clinic, bytes, options): the same file again is the same upload.

    The bytes are not kept here, nor the file's name: a file name is free text.
    """

    pk = models.CompositePrimaryKey("clinic_id", "id")
    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="uploads")
    id = models.UUIDField(default=new_id)
    state = CodeField()
    policy = CodeField()
    create_missing = models.BooleanField()
    sha256 = models.BinaryField()
    size_bytes = models.BigIntegerField()
    rows_total = models.PositiveIntegerField(default=0)
    rows_done = models.PositiveIntegerField(default=0)
    visits_created = models.PositiveIntegerField(default=0)
    visits_unchanged = models.PositiveIntegerField(default=0)
    visits_conflicting = models.PositiveIntegerField(default=0)
    visits_refused = models.PositiveIntegerField(default=0)
    identifiers_found = models.BooleanField(default=False)
    received_at = models.DateTimeField()
    received_by = models.TextField()
    finished_at = models.DateTimeField(null=True)
    undone_at = models.DateTimeField(null=True)
    undone_by = models.TextField(null=True)

    class Meta:
        constraints = [
            one_of("state", STATES, name="upload_state_known"),
            one_of("policy", POLICIES, name="upload_policy_known"),
            # A failed, cancelled or undone one does not stand in the way of another try.
            models.UniqueConstraint(
                fields=["clinic", "sha256", "policy", "create_missing"],
                condition=Q(undone_at=None)
                & Q(state__in=["received", "reading", "storing", "finished"]),
                name="upload_same_file_once",
            ),
            models.CheckConstraint(
                condition=Q(undone_at=None, undone_by=None)
                | Q(undone_at__isnull=False, undone_by__isnull=False),
                name="upload_undone_has_time_and_person",
            ),
        ]
        indexes = [
            models.Index(fields=["clinic", "received_at", "id"], name="upload_page_order"),
        ]

    def __str__(self) -> str:
        return str(self.id)


class UploadProblem(models.Model):
    """One fault of one row: where it is and what kind; never the value itself."""

    pk = models.CompositePrimaryKey("clinic_id", "upload_id", "number")
    clinic_id = models.IntegerField()
    upload_id = models.UUIDField()
    number = models.PositiveIntegerField()
    row = models.PositiveIntegerField(null=True)
    column = models.TextField(null=True)
    code = CodeField(max_length=60)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(code=""), name="upload_problem_has_code"),
        ]

    def __str__(self) -> str:
        return f"{self.row} {self.code}"
