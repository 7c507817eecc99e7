"""The roles of the service, and where each is held."""

from __future__ import annotations

from typing import Final

# Held at one clinic.
CLINIC_ROLES: Final = ("uploader", "coordinator", "tester", "site_lead")
# Held in one network: a lead sees its clinics in the reduced view, a researcher no row at all.
NETWORK_ROLES: Final = ("lead", "researcher")
# Held over the service: accounts, networks, settings; no results.
SERVICE_ROLES: Final = ("operator",)
ROLES: Final = (*CLINIC_ROLES, *NETWORK_ROLES, *SERVICE_ROLES)
