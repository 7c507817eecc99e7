"""The tables of the registry, one subject a file."""

from registry.models.clinic import Clinic
from registry.models.equipment import Irrigator, Recorder, Thermometer
from registry.models.history import AuditEvent, RowVersion, Tombstone
from registry.models.irrigation import Irrigation, ResponseBeats
from registry.models.network import CriteriaSet, Network, NetworkAgreement
from registry.models.people import ApiToken, Membership, User
from registry.models.result import VisitResult
from registry.models.subject import Subject
from registry.models.temperature_check import EquipmentEvent, TemperatureCheck
from registry.models.tester import Tester
from registry.models.upload import Upload, UploadProblem
from registry.models.visit import Visit
from registry.models.work import ChangedKey, OutboxMessage, RecomputeRun

__all__ = [
    "ApiToken",
    "AuditEvent",
    "ChangedKey",
    "Clinic",
    "CriteriaSet",
    "EquipmentEvent",
    "Irrigation",
    "Irrigator",
    "Membership",
    "Network",
    "NetworkAgreement",
    "OutboxMessage",
    "RecomputeRun",
    "Recorder",
    "ResponseBeats",
    "RowVersion",
    "Subject",
    "TemperatureCheck",
    "Tester",
    "Thermometer",
    "Tombstone",
    "Upload",
    "UploadProblem",
    "User",
    "Visit",
    "VisitResult",
]
