"""Who irrigated and recorded, known only by a code of the clinic."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from registry.caloric.vocabulary import EXPERIENCE_BANDS
from registry.models.clinic import Clinic
from registry.models.fields import CodeField, new_id, one_of, optional_word


class Tester(models.Model):
    pk = models.CompositePrimaryKey("clinic_id", "id")
    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="testers")
    id = models.UUIDField(default=new_id)
    code = CodeField()
    experience_band = optional_word()
    active_from = models.DateField(null=True)
    active_to = models.DateField(null=True)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["clinic", "code"], name="tester_code_once_per_clinic"),
            one_of("experience_band", EXPERIENCE_BANDS, name="tester_experience_band_known"),
            models.CheckConstraint(
                condition=Q(active_to=None)
                | Q(active_from=None)
                | Q(active_to__gte=F("active_from")),
                name="tester_ends_after_start",
            ),
        ]

    def __str__(self) -> str:
        return self.code
