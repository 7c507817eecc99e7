"""Something about a tester, irrigator or clinic over many visits that deserves a look."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from registry.models.fields import CodeField, finite, new_id, one_of, optional_word

SUBJECTS = ("tester", "irrigator", "clinic")
CHANNELS = ("change", "level", "at_once", "drift")
TIERS = ("worth_a_look", "please_review")
STATES = ("to_review", "explained", "acted_on", "no_cause_found")
CAUSES = (
    "patient_mix",
    "irrigator",
    "recorder",
    "protocol_change",
    "data_entry",
    "technique",
    "chance",
    "unknown",
)
ACTIONS = (
    "observed_test",
    "joint_reading",
    "equipment_recheck",
    "protocol_reminder",
    "training",
    "none",
)
EFFECTS = ("back_within", "still_beyond", "too_few_visits")
NOTE_LENGTH = 500


class Signal(models.Model):
    """One signal a subject, measure and episode; its evidence is frozen as it was at opening.

    The visits behind it are found by the months and the subject in ``evidence``: links, never
    copies. A tester sees a signal about them first: leads see it from ``leads_from`` on.
    """

    pk = models.CompositePrimaryKey("clinic_id", "id")
    clinic_id = models.IntegerField()
    id = models.UUIDField(default=new_id)
    subject_kind = CodeField()
    subject_id = models.UUIDField()
    # A part of a subject that is watched on its own: a stimulus of an irrigator.
    part = CodeField(default="", blank=True)
    measure = CodeField()
    channel = CodeField()
    tier = CodeField()
    direction = CodeField()
    opened_month = models.DateField()
    opened_at = models.DateTimeField()
    # As the contract names them: since when, how far, the last month beyond, when back within.
    since = models.DateField()
    distance = models.FloatField(null=True)
    last_month_beyond = models.DateField()
    back_within = models.DateField(null=True)
    evidence = models.JSONField()
    engine_version = models.PositiveSmallIntegerField()
    leads_from = models.DateTimeField()
    seen_by_tester_at = models.DateTimeField(null=True)
    state = CodeField(default="to_review")
    cause = optional_word()
    action = optional_word()
    due_on = models.DateField(null=True)
    effect = optional_word()
    effect_checked_on = models.DateField(null=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            one_of("subject_kind", SUBJECTS, name="signal_subject_known"),
            one_of("channel", CHANNELS, name="signal_channel_known"),
            one_of("tier", TIERS, name="signal_tier_known"),
            one_of("direction", ("higher", "lower", "either"), name="signal_direction_known"),
            one_of("state", STATES, name="signal_state_known"),
            one_of("cause", CAUSES, name="signal_cause_known"),
            one_of("action", ACTIONS, name="signal_action_known"),
            one_of("effect", EFFECTS, name="signal_effect_known"),
            finite("distance", name="signal_distance_finite"),
            models.CheckConstraint(
                condition=Q(state="to_review") | Q(cause__isnull=False),
                name="signal_reviewed_has_cause",
            ),
            models.CheckConstraint(
                condition=Q(effect=None, effect_checked_on=None)
                | Q(effect__isnull=False, effect_checked_on__isnull=False),
                name="signal_effect_has_day",
            ),
            models.CheckConstraint(
                condition=Q(last_month_beyond__gte=F("opened_month")),
                name="signal_last_month_not_before_opening",
            ),
            models.UniqueConstraint(
                fields=[
                    "clinic_id",
                    "subject_kind",
                    "subject_id",
                    "part",
                    "measure",
                    "opened_month",
                ],
                name="signal_once_per_episode",
            ),
        ]
        indexes = [
            models.Index(fields=["clinic_id", "opened_at", "id"], name="signal_page_order"),
            models.Index(
                fields=["clinic_id", "subject_kind", "subject_id"], name="signal_by_subject"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.measure} {self.opened_month:%Y-%m}"


class SignalEntry(models.Model):
    """A review, a reply or a check of the effect: added, never rewritten."""

    pk = models.CompositePrimaryKey("clinic_id", "id")
    clinic_id = models.IntegerField()
    id = models.UUIDField(default=new_id)
    signal_id = models.UUIDField()
    kind = CodeField()
    state = optional_word()
    cause = optional_word()
    action = optional_word()
    due_on = models.DateField(null=True)
    effect = optional_word()
    note = models.CharField(max_length=NOTE_LENGTH, blank=True)
    made_at = models.DateTimeField()
    made_by = models.TextField()
    made_as = CodeField()

    signal = models.ForeignObject(
        Signal,
        on_delete=models.DO_NOTHING,
        from_fields=("clinic_id", "signal_id"),
        to_fields=("clinic_id", "id"),
        related_name="entries",
    )

    class Meta:
        constraints = [
            one_of("kind", ("review", "reply", "effect"), name="entry_kind_known"),
            models.CheckConstraint(
                condition=(Q(kind="review") & Q(state__isnull=False)) | ~Q(kind="review"),
                name="entry_review_has_state",
            ),
        ]
        indexes = [
            models.Index(fields=["clinic_id", "signal_id", "made_at"], name="entry_by_signal"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.made_at:%Y-%m-%d}"
