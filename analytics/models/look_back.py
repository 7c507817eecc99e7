"""After a check out of tolerance: every visit since the last good one, and what to do with it."""

from __future__ import annotations

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from registry.models.fields import CodeField, finite, new_id, one_of, optional_word

DECISIONS = ("no_change", "re_report", "recall")


class LookBack(models.Model):
    """One irrigator and stimulus from its last good check to one out of tolerance."""

    pk = models.CompositePrimaryKey("clinic_id", "id")
    clinic_id = models.IntegerField()
    id = models.UUIDField(default=new_id)
    irrigator_id = models.UUIDField()
    check_id = models.UUIDField()
    stimulus = CodeField()
    set_temperature_c = models.FloatField()
    deviation_c = models.FloatField()
    tolerance_c = models.FloatField()
    last_good_at = models.DateTimeField(null=True)
    checked_at = models.DateTimeField()
    # The stretch of tests after it, up to the next good check or the irrigator's leaving use.
    until_at = models.DateTimeField(null=True)
    opened_at = models.DateTimeField()

    class Meta:
        constraints = [
            one_of("stimulus", ("warm", "cool"), name="look_back_stimulus_known"),
            finite("set_temperature_c", "deviation_c", "tolerance_c", name="look_back_finite"),
            models.UniqueConstraint(fields=["clinic_id", "check_id"], name="look_back_once"),
        ]

    def __str__(self) -> str:
        return f"{self.irrigator_id} {self.checked_at:%Y-%m-%d}"


class LookBackVisit(models.Model):
    """A visit in a look-back: the criteria it met as sent and would meet at the worst case."""

    pk = models.CompositePrimaryKey("clinic_id", "look_back_id", "visit_id")
    clinic_id = models.IntegerField()
    look_back_id = models.UUIDField()
    visit_id = models.UUIDField()
    month = models.DateField()
    visit_date = models.DateField()
    as_sent = ArrayField(CodeField())
    at_worst = ArrayField(CodeField())
    changed = ArrayField(CodeField())
    weakness_low = models.FloatField(null=True)
    weakness_high = models.FloatField(null=True)
    preponderance_low = models.FloatField(null=True)
    preponderance_high = models.FloatField(null=True)
    decision = optional_word()
    decided_at = models.DateTimeField(null=True)
    decided_by = models.TextField(null=True)

    class Meta:
        constraints = [
            one_of("decision", DECISIONS, name="look_back_decision_known"),
            finite(
                "weakness_low",
                "weakness_high",
                "preponderance_low",
                "preponderance_high",
                name="look_back_visit_finite",
            ),
            models.CheckConstraint(
                condition=Q(decision=None, decided_at=None, decided_by=None)
                | Q(decision__isnull=False, decided_at__isnull=False, decided_by__isnull=False),
                name="look_back_decision_has_time_and_person",
            ),
        ]
        indexes = [
            models.Index(fields=["clinic_id", "visit_id"], name="look_back_by_visit"),
        ]

    def __str__(self) -> str:
        return f"{self.visit_id} {self.decision or 'open'}"
