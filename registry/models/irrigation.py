"""One delivery of stimulus to one ear, with the response recorded after it; and its beats."""

from __future__ import annotations

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import F, Q

from registry.caloric import vocabulary as words
from registry.models.fields import (
    CodeField,
    RealField,
    between,
    finite,
    one_of,
    optional_number,
    optional_word,
)
from registry.models.visit import Visit

CELL_KEY = ("clinic_id", "visit_id", "ear", "stimulus", "attempt")


class Irrigation(models.Model):
    """Its key is its cell and attempt, so the database refuses the same one twice."""

    pk = models.CompositePrimaryKey(*CELL_KEY)
    clinic_id = models.IntegerField()
    visit_id = models.UUIDField()
    ear = CodeField()
    stimulus = CodeField()
    attempt = models.PositiveSmallIntegerField()
    position_in_visit = models.PositiveSmallIntegerField()
    order_in_visit = models.PositiveSmallIntegerField(null=True)
    started_at = models.DateTimeField(null=True)
    set_temperature_c = optional_number()
    measured_temperature_c = optional_number()
    measured_by = optional_word()
    duration_s = optional_number()
    volume_ml = optional_number()
    peak_spv = optional_number()
    peak_basis = optional_word()
    beat_direction = optional_word()
    pre_fixation_spv = optional_number()
    fixation_spv = optional_number()
    fixation_from_s = optional_number()
    fixation_to_s = optional_number()
    baseline_spv = optional_number()
    vertical_component = optional_word()
    position = optional_word()
    usable = models.BooleanField()
    unusable_reason = ArrayField(CodeField(), default=list)
    repeat_reason = optional_word()
    counts_as_sent = models.BooleanField(null=True)
    earlier_attempts_not_sent = models.PositiveSmallIntegerField(null=True)
    tester_id = models.UUIDField(null=True)
    irrigator_id = models.UUIDField(null=True)
    peak_set_by_id = models.UUIDField(null=True)
    medium = optional_word()

    # What the registry found: does this attempt count, and what do its beats say.
    counted = models.BooleanField()
    computed_peak_spv = optional_number()
    computed_peak_se = optional_number()
    culmination_time_s = optional_number()
    kept_beats = models.PositiveSmallIntegerField(null=True)
    no_peak_reason = optional_word()

    visit = models.ForeignObject(
        Visit,
        on_delete=models.DO_NOTHING,
        from_fields=("clinic_id", "visit_id"),
        to_fields=("clinic_id", "id"),
        related_name="irrigations",
    )

    class Meta:
        constraints = [
            one_of("ear", words.EARS, name="irrigation_ear_known"),
            one_of("stimulus", words.STIMULI, name="irrigation_stimulus_known"),
            between("attempt", 1, 16, name="irrigation_attempt_1_to_16"),
            between("peak_spv", -200, 200, name="irrigation_peak_within_200"),
            models.CheckConstraint(
                condition=Q(set_temperature_c=None)
                | Q(stimulus="warm", set_temperature_c__gt=37, set_temperature_c__lte=60)
                | Q(stimulus="cool", set_temperature_c__lt=37, set_temperature_c__gte=0)
                | Q(stimulus="ice", set_temperature_c__gte=0, set_temperature_c__lte=60),
                name="irrigation_temperature_fits_stimulus",
            ),
            models.CheckConstraint(
                condition=Q(stimulus="ice") | Q(set_temperature_c__isnull=False),
                name="irrigation_has_set_temperature",
            ),
            models.CheckConstraint(
                condition=Q(counted=False) | Q(usable=True, peak_spv__isnull=False),
                name="irrigation_counted_is_usable",
            ),
            models.CheckConstraint(
                condition=Q(fixation_from_s=None)
                | Q(fixation_to_s=None)
                | Q(fixation_to_s__gt=F("fixation_from_s")),
                name="irrigation_fixation_ends_after_start",
            ),
            finite(
                "measured_temperature_c",
                "duration_s",
                "volume_ml",
                "pre_fixation_spv",
                "fixation_spv",
                "fixation_from_s",
                "fixation_to_s",
                "baseline_spv",
                "computed_peak_spv",
                "computed_peak_se",
                "culmination_time_s",
                name="irrigation_numbers_finite",
            ),
            one_of("measured_by", words.MEASURED_BY, name="irrigation_measured_by_known"),
            one_of("peak_basis", words.PEAK_BASES, name="irrigation_peak_basis_known"),
            one_of("beat_direction", words.BEAT_DIRECTIONS, name="irrigation_direction_known"),
            one_of(
                "vertical_component", words.VERTICAL_COMPONENTS, name="irrigation_vertical_known"
            ),
            one_of("position", words.POSITIONS, name="irrigation_position_known"),
            one_of("repeat_reason", words.REPEAT_REASONS, name="irrigation_repeat_reason_known"),
            one_of("medium", words.MEDIA, name="irrigation_medium_known"),
            models.CheckConstraint(
                condition=Q(unusable_reason__contained_by=list(words.REPEAT_REASONS)),
                name="irrigation_unusable_reason_known",
            ),
            models.UniqueConstraint(
                fields=["clinic_id", "visit_id", "ear", "stimulus"],
                condition=Q(counted=True),
                name="irrigation_one_counted_per_cell",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.ear}_{self.stimulus}_{self.attempt}"


class ResponseBeats(models.Model):
    """The beats of one response, two arrays of equal length, in single precision."""

    pk = models.CompositePrimaryKey(*CELL_KEY)
    clinic_id = models.IntegerField()
    visit_id = models.UUIDField()
    ear = CodeField()
    stimulus = CodeField()
    attempt = models.PositiveSmallIntegerField()
    time_s = ArrayField(RealField())
    spv = ArrayField(RealField())

    irrigation = models.ForeignObject(
        Irrigation,
        on_delete=models.DO_NOTHING,
        from_fields=CELL_KEY,
        to_fields=CELL_KEY,
        related_name="beats",
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(time_s__len=F("spv__len")),
                name="beats_equally_long",
            ),
            models.CheckConstraint(
                condition=Q(time_s__len__gte=1, time_s__len__lte=1000), name="beats_1_to_1000"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.visit_id} {self.ear}_{self.stimulus}_{self.attempt}"
