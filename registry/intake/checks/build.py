"""From a draft to the visit itself."""

from __future__ import annotations

from typing import Any, Final

from registry.caloric.visit import (
    Background,
    Irrigation,
    Otoscopy,
    Recording,
    Reported,
    Spontaneous,
    Visit,
)
from registry.intake.checks.draft import Draft, Values
from registry.intake.checks.rules.peak import COMPUTED
from registry.intake.fields import OLDEST_AGE_STORED

# Stands in a reduced visit, which is computed and forgotten, for the codes nobody sent.
NOT_SENT: Final = "not_sent"

_GROUPS: Final[dict[str, Any]] = {
    "spontaneous": Spontaneous,
    "otoscopy": Otoscopy,
    "background": Background,
    "recording": Recording,
    "reported": Reported,
}
_CODES: Final = ("visit_ref", "subject_ref", "tester", "irrigator", "medium")


def build_visit(draft: Draft, from_clinic_default: tuple[str, ...] = ()) -> Visit:
    """The visit of a draft; what is missing becomes ``NOT_SENT``, age 0 and today.

    Of a draft with faults it is only good for asking how its irrigations are signed.
    """
    values: Values = {**dict.fromkeys(_CODES, NOT_SENT), **draft.visit}
    for name, kind in _GROUPS.items():
        if name in values:
            values[name] = kind(**values[name])
    values.setdefault("visit_date", draft.today)
    values["age_years"] = min(values.get("age_years", 0), OLDEST_AGE_STORED)
    values["irrigations"] = tuple([_irrigation(one) for _, one in buildable(draft)])
    return Visit(**values, from_clinic_default=from_clinic_default)


def _irrigation(values: Values) -> Irrigation:
    if values.get("peak_basis") == COMPUTED:
        values = {name: values[name] for name in values if name not in ("peak_spv", "peak_basis")}
    return Irrigation(**values)


def buildable(draft: Draft) -> list[tuple[int, Values]]:
    """The irrigations that name their cell, which is all an irrigation needs, by position."""
    return [(at, one) for at, one in draft.each() if "ear" in one and "stimulus" in one]
