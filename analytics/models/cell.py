"""Sums that everything else is merged from: what one tester did with one irrigator in a month."""

from __future__ import annotations

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from registry.models.fields import CodeField, finite, new_id, one_of


class Cell(models.Model):
    """Sums over the visits of a month, one row a tester, irrigator, recorder and stratum.

    ``n``, ``s``, ``ss`` and ``expected`` hold one number a measure, in the order of the catalogue
    of ``scores_version``: occasions, sum of scores (or events), sum of their squares, and what
    the patients' mix adds to the sum by the coefficients of ``mix_version``. Sums of two cells
    add, so any larger figure is merged from them.
    """

    pk = models.CompositePrimaryKey("clinic_id", "id")
    clinic_id = models.IntegerField()
    id = models.UUIDField(default=new_id)
    month = models.DateField()
    tester_id = models.UUIDField()
    irrigator_id = models.UUIDField()
    recorder_id = models.UUIDField(null=True)
    # What may be compared: medium and how the peak was read, ``water_open/mean_10s``.
    stratum = CodeField(max_length=60)
    visits = models.PositiveIntegerField()
    n = ArrayField(models.FloatField())
    s = ArrayField(models.FloatField())
    ss = ArrayField(models.FloatField())
    expected = ArrayField(models.FloatField())
    scores_version = models.PositiveSmallIntegerField()
    mix_version = models.PositiveIntegerField()
    computed_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=[
                    "clinic_id",
                    "tester_id",
                    "month",
                    "irrigator_id",
                    "recorder_id",
                    "stratum",
                ],
                name="cell_once_per_key",
                nulls_distinct=False,
            ),
            models.CheckConstraint(condition=Q(month__day=1), name="cell_month_is_a_first"),
            models.CheckConstraint(
                condition=Q(n__len=models.F("s__len"))
                & Q(n__len=models.F("ss__len"))
                & Q(n__len=models.F("expected__len")),
                name="cell_sums_equally_long",
            ),
        ]
        indexes = [
            models.Index(fields=["clinic_id", "irrigator_id", "month"], name="cell_by_irrigator"),
        ]

    def __str__(self) -> str:
        return f"{self.tester_id} {self.month:%Y-%m}"


class CheckCell(models.Model):
    """Readings of an irrigator in a month against one thermometer, by stimulus, in Cel."""

    pk = models.CompositePrimaryKey("clinic_id", "id")
    clinic_id = models.IntegerField()
    id = models.UUIDField(default=new_id)
    month = models.DateField()
    irrigator_id = models.UUIDField()
    thermometer_id = models.UUIDField(null=True)
    stimulus = CodeField()
    readings = models.PositiveIntegerField()
    within = models.PositiveIntegerField()
    s = models.FloatField()
    ss = models.FloatField()
    computed_at = models.DateTimeField()

    class Meta:
        constraints = [
            one_of("stimulus", ("warm", "cool"), name="check_cell_stimulus_known"),
            finite("s", "ss", name="check_cell_numbers_finite"),
            models.CheckConstraint(
                condition=Q(within__lte=models.F("readings")), name="check_cell_within_all"
            ),
            models.UniqueConstraint(
                fields=["clinic_id", "irrigator_id", "month", "stimulus", "thermometer_id"],
                name="check_cell_once_per_key",
                nulls_distinct=False,
            ),
        ]

    def __str__(self) -> str:
        return f"{self.irrigator_id} {self.month:%Y-%m} {self.stimulus}"


class RetestPair(models.Model):
    """Two tests of one person within 90 days: what the same thing gives when measured twice.

    Differences are later minus earlier: weakness in points, each ear's total as ln of a ratio.
    """

    pk = models.CompositePrimaryKey("clinic_id", "visit_id", "earlier_visit_id")
    clinic_id = models.IntegerField()
    visit_id = models.UUIDField()
    earlier_visit_id = models.UUIDField()
    subject_id = models.UUIDField()
    tester_id = models.UUIDField()
    earlier_tester_id = models.UUIDField()
    month = models.DateField()
    days = models.PositiveSmallIntegerField()
    comparable = models.BooleanField()
    weakness = models.FloatField(null=True)
    earlier_weakness = models.FloatField(null=True)
    preponderance = models.FloatField(null=True)
    earlier_preponderance = models.FloatField(null=True)
    right_log_ratio = models.FloatField(null=True)
    left_log_ratio = models.FloatField(null=True)

    class Meta:
        constraints = [
            finite(
                "weakness",
                "earlier_weakness",
                "preponderance",
                "earlier_preponderance",
                "right_log_ratio",
                "left_log_ratio",
                name="pair_numbers_finite",
            ),
            models.CheckConstraint(condition=Q(days__lte=90), name="pair_within_90_days"),
        ]
        indexes = [
            models.Index(fields=["clinic_id", "tester_id", "month"], name="pair_by_tester"),
            models.Index(fields=["clinic_id", "subject_id"], name="pair_by_subject"),
        ]

    def __str__(self) -> str:
        return f"{self.visit_id} after {self.days} days"


class StandOut(models.Model):
    """A visit whose record deserves a second look, and why; never a reason to remove it."""

    pk = models.CompositePrimaryKey("clinic_id", "visit_id")
    clinic_id = models.IntegerField()
    visit_id = models.UUIDField()
    tester_id = models.UUIDField()
    month = models.DateField()
    visit_date = models.DateField()
    # In robust standard deviations of the network's usual visits; null when a rule alone speaks.
    distance = models.FloatField(null=True)
    reason_codes = ArrayField(CodeField())
    reasons = models.JSONField()
    negative_peaks = models.PositiveSmallIntegerField()
    reference_version = models.PositiveIntegerField()

    class Meta:
        constraints = [finite("distance", name="stand_out_distance_finite")]
        indexes = [
            models.Index(
                fields=["clinic_id", "tester_id", "visit_date"], name="stand_out_by_tester"
            ),
        ]

    def __str__(self) -> str:
        return str(self.visit_id)
