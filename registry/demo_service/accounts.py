"""The demo's people: every role, two clinics, secrets from the operating system."""

from __future__ import annotations

import json
import os
import secrets
from datetime import datetime
from pathlib import Path
from typing import Any

from registry.access.people import member_add
from registry.access.roles import CLINIC_ROLES, NETWORK_ROLES, SERVICE_ROLES
from registry.access.scope import clinic_scope
from registry.access.tokens import token_issue
from registry.demo_service.network import DEMO_ACTOR, tester_of
from registry.models import Clinic, Network

CLINICS_WITH_ACCOUNTS = 2


def accounts_make(network: Network, *, file: Path, at: datetime) -> None:
    """Make the accounts and write them to ``file`` (mode 0600), unless it is there already."""
    if file.exists():
        return
    accounts: list[dict[str, Any]] = []
    clinics = Clinic.objects.filter(network=network).order_by("id")[:CLINICS_WITH_ACCOUNTS]
    for clinic in clinics:
        accounts += [_account(role, at, clinic=clinic) for role in CLINIC_ROLES]
    accounts += [_account(role, at, network=network) for role in NETWORK_ROLES]
    accounts += [_account(role, at) for role in SERVICE_ROLES]
    _write_private(file, json.dumps(accounts, indent=2) + "\n")


def _account(
    role: str, at: datetime, *, clinic: Clinic | None = None, network: Network | None = None
) -> dict[str, Any]:
    place = clinic.code if clinic else network.code if network else "service"
    username = f"{role}-{place}".lower()
    password = secrets.token_urlsafe(15)
    membership = member_add(
        username=username,
        password=password,
        role=role,
        clinic=clinic,
        network=network,
        tester_id=_tester_id(clinic) if role == "tester" else None,
        by=DEMO_ACTOR,
        at=at,
    )
    return {
        "role": role,
        "clinic": clinic.code if clinic else None,
        "username": username,
        "password": password,
        "token": token_issue(membership=membership, created_at=at, by=DEMO_ACTOR),
    }


def _tester_id(clinic: Clinic | None) -> Any:
    if clinic is None:
        return None
    with clinic_scope([clinic.pk], by=DEMO_ACTOR):
        return tester_of(clinic).id


def _write_private(file: Path, text: str) -> None:
    """Write a file that nobody else may read, not even for the moment before a chmod."""
    descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w") as stream:
        stream.write(text)
