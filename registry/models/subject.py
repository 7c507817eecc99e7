"""Whom a visit is about: an opaque code and nothing else."""

from __future__ import annotations

from django.db import models

from registry.models.clinic import Clinic
from registry.models.fields import CodeField, new_id


class Subject(models.Model):
    pk = models.CompositePrimaryKey("clinic_id", "id")
    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="subjects")
    id = models.UUIDField(default=new_id)
    ref = CodeField()
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["clinic", "ref"], name="subject_ref_once_per_clinic"),
        ]

    def __str__(self) -> str:
        return self.ref
