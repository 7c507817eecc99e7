"""Which role may do what, written down once more: a slip in the table must not pass unseen."""

from __future__ import annotations

import pytest

from registry.access.permissions import PERMISSIONS
from registry.access.roles import ROLES

EVERYBODY = {"indices_compute"}
READING = {
    "visit_read",
    "tester_read",
    "device_read",
    "temperature_check_read",
    "equipment_event_read",
}
SENDING = {"visit_create", "subject_code_mint", "upload_create", "upload_read", "upload_purge"}
COORDINATING = {
    "visit_versions_read",
    "visit_amend",
    "visit_withdraw",
    "subject_erase",
    "upload_create_missing",
    "upload_undo",
    "tester_write",
    "device_write",
    "temperature_check_withdraw",
    "equipment_event_write",
}
# Common practice, no source: who sends may not change, who leads may only read, and who runs
# the service or does research sees no result here.
MAY = {
    "uploader": READING | SENDING | {"temperature_check_write"},
    "coordinator": READING | SENDING | COORDINATING | {"temperature_check_write"},
    "tester": READING | {"temperature_check_write"},
    "site_lead": READING | {"upload_read"},
    "lead": {"visit_read"},
    "researcher": set(),
    "operator": set(),
}


@pytest.mark.parametrize("role", ROLES)
def test_a_role_may_do_this_and_nothing_else(role):
    allowed = {action for action, roles in PERMISSIONS.items() if role in roles}

    assert allowed == MAY[role] | EVERYBODY


def test_no_action_is_open_to_a_role_that_does_not_exist():
    assert set().union(*PERMISSIONS.values()) <= set(ROLES)
