"""A clinic and its settings."""

from __future__ import annotations

import uuid
from datetime import date, datetime, tzinfo
from zoneinfo import ZoneInfo

from django.db import models

from registry.models.fields import CodeField
from registry.models.network import Network


class Clinic(models.Model):
    """Where visits happen. Its integer id is part of every key of a row that belongs to it."""

    id = models.AutoField(primary_key=True)
    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    network = models.ForeignKey(Network, on_delete=models.PROTECT, related_name="clinics")
    code = CodeField(unique=True)
    name = models.TextField()
    time_zone = models.TextField(default="UTC")
    # Overrides of the network's procedure, and values filled in where a sender left them out.
    procedure = models.JSONField(default=dict)
    visit_defaults = models.JSONField(default=dict)

    def __str__(self) -> str:
        return self.code

    def zone(self) -> tzinfo:
        return ZoneInfo(self.time_zone)

    def local_date(self, moment: datetime) -> date:
        return moment.astimezone(self.zone()).date()
