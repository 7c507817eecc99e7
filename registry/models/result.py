"""What the registry computed from one visit: indices, assessments, findings."""

from __future__ import annotations

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from registry.caloric import vocabulary as words
from registry.models.fields import CodeField, finite, one_of, optional_number, optional_word
from registry.models.network import CriteriaSet
from registry.models.visit import Visit

INDEX_NUMBERS = (
    "right_total",
    "left_total",
    "warm_total",
    "cool_total",
    "total_spv",
    "unilateral_weakness_percent",
    "directional_preponderance_percent",
    "temperature_effect_percent",
    "monothermal_warm_percent",
    "monothermal_cool_percent",
    "monothermal_warm_percent_spontaneous_removed",
    "monothermal_cool_percent_spontaneous_removed",
    "baseline_shift_percent",
    "gain_asymmetry_percent",
    "fixation_index_right_warm",
    "fixation_index_left_warm",
    "fixation_index_right_cool",
    "fixation_index_left_cool",
    "fixation_index_right_beating",
    "fixation_index_left_beating",
    "fixation_index_overall",
    "unilateral_weakness_se_retest",
    "unilateral_weakness_se_within_response",
    "directional_preponderance_se_retest",
    "directional_preponderance_se_within_response",
)


class VisitResult(models.Model):
    """One row a visit: recomputed here from the irrigations, never taken from the sender.

    An index that is undefined is null and ``undefined_reason`` says why. Percentages are
    not clipped. Speeds in deg/s.
    """

    pk = models.CompositePrimaryKey("clinic_id", "visit_id")
    clinic_id = models.IntegerField()
    visit_id = models.UUIDField()
    right_total = optional_number()
    left_total = optional_number()
    warm_total = optional_number()
    cool_total = optional_number()
    total_spv = optional_number()
    unilateral_weakness_percent = optional_number()
    lower_side = optional_word()
    directional_preponderance_percent = optional_number()
    preponderance_direction = optional_word()
    temperature_effect_percent = optional_number()
    monothermal_warm_percent = optional_number()
    monothermal_cool_percent = optional_number()
    monothermal_warm_percent_spontaneous_removed = optional_number()
    monothermal_cool_percent_spontaneous_removed = optional_number()
    baseline_shift_percent = optional_number()
    gain_asymmetry_percent = optional_number()
    fixation_index_right_warm = optional_number()
    fixation_index_left_warm = optional_number()
    fixation_index_right_cool = optional_number()
    fixation_index_left_cool = optional_number()
    fixation_index_right_beating = optional_number()
    fixation_index_left_beating = optional_number()
    fixation_index_overall = optional_number()
    unilateral_weakness_se_retest = optional_number()
    unilateral_weakness_se_within_response = optional_number()
    directional_preponderance_se_retest = optional_number()
    directional_preponderance_se_within_response = optional_number()
    undefined_reason = optional_word()
    method_version = models.PositiveIntegerField()
    criteria_set = models.ForeignKey(CriteriaSet, on_delete=models.PROTECT, related_name="+")
    indices_first_attempt = models.JSONField(null=True)
    assessment_codes = ArrayField(CodeField(), default=list)
    assessments = models.JSONField()
    finding_codes = ArrayField(CodeField(), default=list)
    findings = models.JSONField()
    computed_at = models.DateTimeField()

    visit = models.ForeignObject(
        Visit,
        on_delete=models.DO_NOTHING,
        from_fields=("clinic_id", "visit_id"),
        to_fields=("clinic_id", "id"),
        related_name="result",
    )

    class Meta:
        constraints = [
            finite(*INDEX_NUMBERS, name="result_numbers_finite"),
            one_of("lower_side", words.SIDES, name="result_side_known"),
            one_of(
                "preponderance_direction",
                words.PREPONDERANCE_DIRECTIONS,
                name="result_direction_known",
            ),
            one_of("undefined_reason", words.UNDEFINED_REASONS, name="result_reason_known"),
            models.CheckConstraint(
                condition=Q(unilateral_weakness_percent__isnull=False)
                | Q(undefined_reason__isnull=False),
                name="result_undefined_has_reason",
            ),
            models.CheckConstraint(
                condition=Q(assessment_codes__contained_by=list(words.ASSESSMENTS)),
                name="result_assessments_known",
            ),
            models.CheckConstraint(
                condition=Q(finding_codes__contained_by=list(words.FINDINGS)),
                name="result_findings_known",
            ),
        ]

    def __str__(self) -> str:
        return str(self.visit_id)
