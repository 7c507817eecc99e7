"""Every table is in exactly one list; a test fails on one that is in none.

*Scoped* tables hold a clinic's rows: row-level security is forced on them. *Shared* tables
describe the networks themselves. *System* tables are read before a scope is known, or by
background work, and hold no result.
"""

from __future__ import annotations

from typing import Final

SCOPED: Final = (
    "registry_tester",
    "registry_irrigator",
    "registry_recorder",
    "registry_thermometer",
    "registry_subject",
    "registry_visit",
    "registry_irrigation",
    "registry_responsebeats",
    "registry_visitresult",
    "registry_temperaturecheck",
    "registry_equipmentevent",
    "registry_upload",
    "registry_uploadproblem",
    "registry_rowversion",
    "registry_tombstone",
    "registry_changedkey",
    # Scoped for reading; anything may be added, since a refusal is an event too.
    "registry_auditevent",
    "analytics_cell",
    "analytics_checkcell",
    "analytics_retestpair",
    "analytics_standout",
    "analytics_subjectsummary",
    "analytics_signal",
    "analytics_signalentry",
    "analytics_lookback",
    "analytics_lookbackvisit",
)
# Rows made of several clinics' rows, named in ``clinics``: seen only by a scope that holds all.
SCOPED_TOGETHER: Final = ("analytics_snapshot",)
SHARED: Final = (
    "registry_network",
    "registry_networkagreement",
    "registry_criteriaset",
    "registry_clinic",
    "analytics_build",
    "analytics_patientmix",
    "analytics_networkstate",
)
SYSTEM: Final = (
    "registry_user",
    "registry_membership",
    "registry_apitoken",
    "registry_outboxmessage",
    "registry_recomputerun",
    "django_session",
    "django_content_type",
    "django_migrations",
    "auth_permission",
    "auth_group",
    "auth_group_permissions",
)
# Never changed once written: no UPDATE, DELETE or TRUNCATE for the application.
# A tombstone too: without it a file sent again would bring an erased person back.
APPEND_ONLY: Final = ("registry_auditevent", "registry_criteriaset", "registry_tombstone")
# Added to and, in an erasure, taken from; what was is never rewritten.
NEVER_UPDATED: Final = ("registry_rowversion", "analytics_signalentry")
