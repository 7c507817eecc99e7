"""Uploads as their clinic sees them."""

from __future__ import annotations

from uuid import UUID

from django.db.models import QuerySet

from registry.intake.uploads import UploadNotFound
from registry.models import Clinic, Upload, UploadProblem


def uploads_of(*, clinic: Clinic) -> QuerySet[Upload]:
    """The clinic's uploads, the latest first."""
    return Upload.objects.filter(clinic=clinic).order_by("-received_at", "-id")


def upload_get(*, clinic: Clinic, upload_id: UUID) -> Upload:
    """:raises UploadNotFound: no such upload at this clinic."""
    upload = uploads_of(clinic=clinic).filter(id=upload_id).first()
    if upload is None:
        raise UploadNotFound
    return upload


def upload_problems(*, clinic: Clinic, upload_id: UUID) -> QuerySet[UploadProblem]:
    """What was wrong with its rows, in the order of the file.

    :raises UploadNotFound: no such upload at this clinic.
    """
    upload_get(clinic=clinic, upload_id=upload_id)
    problems = UploadProblem.objects.filter(clinic_id=clinic.pk, upload_id=upload_id)
    return problems.order_by("number")
