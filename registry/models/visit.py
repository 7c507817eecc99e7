"""One caloric test of one subject on one day at one clinic."""

from __future__ import annotations

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from registry.caloric import vocabulary as words
from registry.models.fields import (
    CodeField,
    between,
    finite,
    new_id,
    one_of,
    optional_number,
    optional_word,
)
from registry.models.subject import Subject

RECEIVED_VIA = ("api", "form", "file")


class VisitQuerySet(models.QuerySet["Visit"]):
    def in_page_order(self) -> VisitQuerySet:
        # The id makes the order total; paging by a date alone skips rows.
        return self.order_by("-visit_date", "-id")

    def in_force(self) -> VisitQuerySet:
        """Not withdrawn: what statistics and releases may count."""
        return self.filter(withdrawn_at=None)


class Visit(models.Model):
    """A visit as its clinic sent it, peaks turned to the expected-positive sign.

    Absent means not recorded. A visit holds no free text anywhere. Its irrigations, beats
    and computed result are rows of their own under the same (clinic, visit) key.
    """

    pk = models.CompositePrimaryKey("clinic_id", "id")
    clinic_id = models.IntegerField()
    id = models.UUIDField(default=new_id)
    visit_ref = CodeField()
    subject_id = models.UUIDField()
    tester_id = models.UUIDField()
    irrigator_id = models.UUIDField()
    recorder_id = models.UUIDField(null=True)
    visit_date = models.DateField()
    age_years = models.PositiveSmallIntegerField()
    sex = optional_word()
    visit_kind = optional_word()
    medium = CodeField()
    protocol_planned = optional_word()
    protocol_done = CodeField()
    head_elevation_deg = optional_number()
    incomplete_reason = optional_word()
    adverse_event = optional_word()
    sign_convention = CodeField()
    directions_known = models.BooleanField()
    spontaneous_spv = optional_number()
    spontaneous_kind = optional_word()
    spontaneous_handling = optional_word()
    otoscopy_right = optional_word()
    otoscopy_left = optional_word()
    background_referral_group = optional_word()
    background_onset_band = optional_word()
    background_symptomatic_ear = optional_word()
    background_suppressants_48h = optional_word()
    recording_method = optional_word()
    recording_eye = optional_word()
    recording_vision_denied = optional_word()
    recording_alerting = optional_word()
    reported_unilateral_weakness_percent = optional_number()
    reported_lower_side = optional_word()
    reported_directional_preponderance_percent = optional_number()
    reported_preponderance_direction = optional_word()
    reported_total_spv = optional_number()
    from_clinic_default = ArrayField(models.TextField(), default=list)

    # Where the row came from, and which version of it this is.
    version = models.PositiveIntegerField(default=1)
    amendment_reason = optional_word()
    content_digest = models.BinaryField()
    received_at = models.DateTimeField()
    received_via = CodeField()
    received_by = models.TextField()
    upload_id = models.UUIDField(null=True)
    withdrawn_at = models.DateTimeField(null=True)
    withdrawn_by = models.TextField(null=True)

    subject = models.ForeignObject(
        Subject,
        on_delete=models.DO_NOTHING,
        from_fields=("clinic_id", "subject_id"),
        to_fields=("clinic_id", "id"),
        related_name="visits",
    )
    tester = models.ForeignObject(
        "registry.Tester",
        on_delete=models.DO_NOTHING,
        from_fields=("clinic_id", "tester_id"),
        to_fields=("clinic_id", "id"),
        related_name="visits",
    )
    irrigator = models.ForeignObject(
        "registry.Irrigator",
        on_delete=models.DO_NOTHING,
        from_fields=("clinic_id", "irrigator_id"),
        to_fields=("clinic_id", "id"),
        related_name="visits",
    )
    recorder = models.ForeignObject(
        "registry.Recorder",
        on_delete=models.DO_NOTHING,
        from_fields=("clinic_id", "recorder_id"),
        to_fields=("clinic_id", "id"),
        related_name="visits",
        null=True,
    )

    objects = VisitQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["clinic_id", "visit_ref"], name="visit_ref_once_per_clinic"
            ),
            between("age_years", 0, 90, name="visit_age_0_to_90"),
            models.CheckConstraint(
                condition=Q(visit_date__gte="1990-01-01"), name="visit_date_from_1990"
            ),
            models.CheckConstraint(condition=Q(version__gte=1), name="visit_version_from_1"),
            models.CheckConstraint(
                condition=Q(withdrawn_at=None, withdrawn_by=None)
                | Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False),
                name="visit_withdrawn_has_time_and_person",
            ),
            models.CheckConstraint(
                condition=Q(reported_unilateral_weakness_percent=None)
                | Q(reported_unilateral_weakness_percent__gte=0),
                name="visit_reported_weakness_a_magnitude",
            ),
            models.CheckConstraint(
                condition=Q(reported_directional_preponderance_percent=None)
                | Q(reported_directional_preponderance_percent__gte=0),
                name="visit_reported_preponderance_a_magnitude",
            ),
            finite(
                "spontaneous_spv",
                "head_elevation_deg",
                "reported_unilateral_weakness_percent",
                "reported_directional_preponderance_percent",
                "reported_total_spv",
                name="visit_numbers_finite",
            ),
            one_of("sex", words.SEXES, name="visit_sex_known"),
            one_of("visit_kind", words.VISIT_KINDS, name="visit_kind_known"),
            one_of("medium", words.MEDIA, name="visit_medium_known"),
            one_of("protocol_planned", words.PROTOCOLS_PLANNED, name="visit_planned_known"),
            one_of("protocol_done", words.PROTOCOLS_DONE, name="visit_done_known"),
            one_of("incomplete_reason", words.INCOMPLETE_REASONS, name="visit_incomplete_known"),
            one_of("adverse_event", words.ADVERSE_EVENTS, name="visit_adverse_event_known"),
            one_of("sign_convention", words.SIGN_CONVENTIONS, name="visit_sign_known"),
            one_of("spontaneous_kind", words.SPONTANEOUS_KINDS, name="visit_spontaneous_kind"),
            one_of(
                "spontaneous_handling",
                words.SPONTANEOUS_HANDLINGS,
                name="visit_spontaneous_handling",
            ),
            one_of("otoscopy_right", words.OTOSCOPY, name="visit_otoscopy_right_known"),
            one_of("otoscopy_left", words.OTOSCOPY, name="visit_otoscopy_left_known"),
            one_of("background_referral_group", words.REFERRAL_GROUPS, name="visit_referral_group"),
            one_of("background_onset_band", words.ONSET_BANDS, name="visit_onset_band_known"),
            one_of(
                "background_symptomatic_ear",
                words.SYMPTOMATIC_EARS,
                name="visit_symptomatic_ear_known",
            ),
            one_of(
                "background_suppressants_48h", words.SUPPRESSANTS, name="visit_suppressants_known"
            ),
            one_of("recording_method", words.RECORDING_METHODS, name="visit_method_known"),
            one_of("recording_eye", words.RECORDED_EYES, name="visit_eye_known"),
            one_of("recording_vision_denied", words.VISION_DENIED, name="visit_vision_known"),
            one_of("recording_alerting", words.ALERTING, name="visit_alerting_known"),
            one_of("reported_lower_side", words.SIDES, name="visit_reported_side_known"),
            one_of(
                "reported_preponderance_direction",
                words.PREPONDERANCE_DIRECTIONS,
                name="visit_reported_direction_known",
            ),
            one_of("amendment_reason", words.AMENDMENT_REASONS, name="visit_amendment_known"),
            one_of("received_via", RECEIVED_VIA, name="visit_received_via_known"),
        ]
        indexes = [
            models.Index(fields=["clinic_id", "visit_date", "id"], name="visit_page_order"),
            models.Index(fields=["clinic_id", "subject_id"], name="visit_by_subject"),
            models.Index(fields=["clinic_id", "tester_id", "visit_date"], name="visit_by_tester"),
            models.Index(
                fields=["clinic_id", "irrigator_id", "visit_date"], name="visit_by_irrigator"
            ),
            models.Index(
                fields=["clinic_id", "upload_id"],
                condition=Q(upload_id__isnull=False),
                name="visit_by_upload",
            ),
        ]

    def __str__(self) -> str:
        return self.visit_ref
