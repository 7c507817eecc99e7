"""Which role may do what, written down once more: a slip in the table must not pass unseen."""

from __future__ import annotations

import pytest

from registry.access.permissions import PERMISSIONS
from registry.access.roles import ROLES

EVERYBODY = {"indices_compute", "measure_read"}
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
# Figures of testers and what is seen in them: for who leads, and for the tester concerned.
WATCHING = {"summary_tester_read", "dashboard_read", "signal_read", "stand_out_read"}
LEADING = WATCHING | {
    "summary_irrigator_read",
    "summary_clinic_read",
    "signal_review",
    "look_back_read",
}
LOOKING_BACK = {"look_back_read", "look_back_decide"}
# Common practice, no source: who sends may not change, who leads may only read, and who runs
# the service or does research sees no result here.
MAY = {
    "uploader": READING | SENDING | {"temperature_check_write"},
    "coordinator": READING
    | SENDING
    | COORDINATING
    | LOOKING_BACK
    | {"temperature_check_write", "stand_out_read"},
    "tester": READING | WATCHING | {"temperature_check_write", "signal_reply"},
    "site_lead": READING | LEADING | {"upload_read", "look_back_decide"},
    "lead": LEADING | {"visit_read"},
    "researcher": set(),
    "operator": set(),
}


@pytest.mark.parametrize("role", ROLES)
def test_a_role_may_do_this_and_nothing_else(role):
    allowed = {action for action, roles in PERMISSIONS.items() if role in roles}

    assert allowed == MAY[role] | EVERYBODY


def test_no_action_is_open_to_a_role_that_does_not_exist():
    assert set().union(*PERMISSIONS.values()) <= set(ROLES)
