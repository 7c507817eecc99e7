"""A reading of an irrigator's delivered temperature against a reference thermometer."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from registry.caloric import vocabulary as words
from registry.models.equipment import Irrigator
from registry.models.fields import (
    CodeField,
    between,
    finite,
    new_id,
    one_of,
    optional_number,
    optional_word,
)


class TemperatureCheck(models.Model):
    """The registry decides ``within_tolerance`` and keeps the tolerance it used beside it."""

    pk = models.CompositePrimaryKey("clinic_id", "id")
    clinic_id = models.IntegerField()
    id = models.UUIDField(default=new_id)
    irrigator_id = models.UUIDField()
    thermometer_id = models.UUIDField(null=True)
    checked_at = models.DateTimeField()
    stimulus = CodeField()
    set_temperature_c = models.FloatField()
    reading_c = models.FloatField()
    measured_at = optional_word()
    phase = optional_word()
    action = optional_word()
    flow_l_min = optional_number()
    ambient_c = optional_number()
    tolerance_c = models.FloatField()
    within_tolerance = models.BooleanField()
    recorded_at = models.DateTimeField()
    recorded_by = models.TextField()
    withdrawn_at = models.DateTimeField(null=True)
    withdrawn_by = models.TextField(null=True)

    irrigator = models.ForeignObject(
        Irrigator,
        on_delete=models.DO_NOTHING,
        from_fields=("clinic_id", "irrigator_id"),
        to_fields=("clinic_id", "id"),
        related_name="temperature_checks",
    )
    thermometer = models.ForeignObject(
        "registry.Thermometer",
        on_delete=models.DO_NOTHING,
        from_fields=("clinic_id", "thermometer_id"),
        to_fields=("clinic_id", "id"),
        related_name="temperature_checks",
        null=True,
    )

    class Meta:
        constraints = [
            one_of("stimulus", ("warm", "cool"), name="check_stimulus_known"),
            one_of("measured_at", words.CHECK_PLACES, name="check_place_known"),
            one_of("phase", words.CHECK_PHASES, name="check_phase_known"),
            one_of("action", words.CHECK_ACTIONS, name="check_action_known"),
            between("reading_c", 0, 100, name="check_reading_0_to_100"),
            between("set_temperature_c", 0, 60, name="check_set_temperature_0_to_60"),
            finite("flow_l_min", "ambient_c", "tolerance_c", name="check_numbers_finite"),
            models.CheckConstraint(
                condition=Q(withdrawn_at=None, withdrawn_by=None)
                | Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False),
                name="check_withdrawn_has_time_and_person",
            ),
            # The same reading sent twice is one check; a withdrawn one may be sent right.
            models.UniqueConstraint(
                fields=["clinic_id", "irrigator_id", "checked_at", "stimulus", "phase"],
                condition=Q(withdrawn_at=None),
                name="check_once_per_moment",
                nulls_distinct=False,
            ),
        ]
        indexes = [
            models.Index(fields=["clinic_id", "checked_at", "id"], name="check_page_order"),
        ]

    def __str__(self) -> str:
        return f"{self.irrigator_id} {self.checked_at:%Y-%m-%d}"


class EquipmentEvent(models.Model):
    """Something done to an irrigator or a recorder that may change what it measures."""

    pk = models.CompositePrimaryKey("clinic_id", "id")
    clinic_id = models.IntegerField()
    id = models.UUIDField(default=new_id)
    irrigator_id = models.UUIDField(null=True)
    recorder_id = models.UUIDField(null=True)
    kind = CodeField()
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    recorded_by = models.TextField()

    class Meta:
        constraints = [
            one_of("kind", words.EQUIPMENT_EVENTS, name="equipment_event_kind_known"),
            models.CheckConstraint(
                condition=Q(irrigator_id__isnull=False, recorder_id=None)
                | Q(irrigator_id=None, recorder_id__isnull=False),
                name="equipment_event_on_one_device",
            ),
        ]
        indexes = [
            models.Index(fields=["clinic_id", "happened_at", "id"], name="event_page_order"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.happened_at:%Y-%m-%d}"
