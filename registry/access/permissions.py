"""Who may do what: one table, deny by default.

``check_may`` raises, ``may`` answers. Whose rows they are is decided elsewhere: by the
scope (``scope.py``), and for a tester by ``visits_visible_to``.
"""

from __future__ import annotations

from typing import Final

from registry.access.roles import CLINIC_ROLES, ROLES

_SENDERS: Final = frozenset({"uploader", "coordinator"})
_COORDINATOR: Final = frozenset({"coordinator"})
_CLINIC: Final = frozenset(CLINIC_ROLES)
_LEADING: Final = frozenset({"site_lead", "lead"})
# Who answers for the figures, and the tester whom they are about.
_WATCHED: Final = _LEADING | {"tester"}

PERMISSIONS: Final[dict[str, frozenset[str]]] = {
    "indices_compute": frozenset(ROLES),
    "visit_create": _SENDERS,
    "visit_read": _CLINIC | {"lead"},
    "visit_versions_read": _COORDINATOR,
    "visit_amend": _COORDINATOR,
    "visit_withdraw": _COORDINATOR,
    "subject_code_mint": _SENDERS,
    "subject_erase": _COORDINATOR,
    "upload_create": _SENDERS,
    "upload_create_missing": _COORDINATOR,
    "upload_read": frozenset({"uploader", "coordinator", "site_lead"}),
    "upload_undo": _COORDINATOR,
    "upload_purge": _SENDERS,
    "tester_read": _CLINIC,
    "tester_write": _COORDINATOR,
    "device_read": _CLINIC,
    "device_write": _COORDINATOR,
    "temperature_check_read": _CLINIC,
    "temperature_check_write": frozenset({"uploader", "coordinator", "tester"}),
    "temperature_check_withdraw": _COORDINATOR,
    "equipment_event_read": _CLINIC,
    "equipment_event_write": _COORDINATOR,
    "measure_read": frozenset(ROLES),
    "summary_tester_read": _WATCHED,
    "summary_irrigator_read": _LEADING,
    "summary_clinic_read": _LEADING,
    "dashboard_read": _WATCHED,
    "signal_read": _WATCHED,
    "signal_review": _LEADING,
    "signal_reply": frozenset({"tester"}),
    "stand_out_read": _WATCHED | _COORDINATOR,
    "look_back_read": _LEADING | _COORDINATOR,
    "look_back_decide": frozenset({"coordinator", "site_lead"}),
}


class NotAllowed(Exception):
    """The role may not do this."""


def may(role: str | None, action: str) -> bool:
    return role in PERMISSIONS[action]


def check_may(role: str | None, action: str) -> None:
    """:raises NotAllowed: if the role may not do the action."""
    if not may(role, action):
        raise NotAllowed(action)
