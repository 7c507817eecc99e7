"""Irrigators, recorders and thermometers: codes of the clinic, each with a life cycle."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from registry.models.clinic import Clinic
from registry.models.fields import CodeField, finite, new_id, optional_number


class Device(models.Model):
    """A label on a device. A label used again is a new device: its old row is retired."""

    pk = models.CompositePrimaryKey("clinic_id", "id")
    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="%(class)ss")
    id = models.UUIDField(default=new_id)
    code = CodeField()
    in_service_from = models.DateField(null=True)
    retired_at = models.DateField(null=True)
    calibration_due = models.DateField(null=True)
    uncertainty_c = optional_number()
    created_at = models.DateTimeField()

    class Meta:
        abstract = True
        constraints = [
            models.UniqueConstraint(
                fields=["clinic", "code"],
                condition=Q(retired_at=None),
                name="%(class)s_code_once_in_service",
            ),
            models.CheckConstraint(
                condition=Q(retired_at=None)
                | Q(in_service_from=None)
                | Q(retired_at__gte=F("in_service_from")),
                name="%(class)s_retires_after_start",
            ),
            models.CheckConstraint(
                condition=Q(uncertainty_c__gte=0), name="%(class)s_uncertainty_not_negative"
            ),
            finite("uncertainty_c", name="%(class)s_numbers_finite"),
        ]

    def __str__(self) -> str:
        return self.code


class Irrigator(Device):
    """The device that delivers the stimulus."""

    # Set by the second bad reading in a row, cleared by a good one after the device was seen to.
    out_of_use_since = models.DateTimeField(null=True)


class Recorder(Device):
    """The device that records the eyes."""


class Thermometer(Device):
    """The reference an irrigator is read against."""
