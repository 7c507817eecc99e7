"""A subject's measures month by month, for a tester, an irrigator or a clinic."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from typing import Any

import numpy as np

from analytics.dashboards.disclosure import large_enough, may_compare
from analytics.dashboards.figures.months import FOOTER, Months, over_months
from analytics.dashboards.figures.parts import many
from analytics.dashboards.figures.scale import Scale, occasions, scale_of
from analytics.dashboards.figures.style import Json
from analytics.dashboards.limits import Year, ratio
from analytics.dashboards.sources import SHOWN_MONTHS, Subjects
from analytics.dashboards.words import subject_says


@dataclass(frozen=True, slots=True, kw_only=True)
class Reader:
    """For whom: ``small_shown`` if months on few visits may be shown, as to the subject."""

    small_shown: bool


def measure_months(
    subjects: Subjects,
    subject: Hashable,
    *,
    clinic_id: int,
    compared: dict[str, Any],
    reader: Reader,
    only: frozenset[str] | None = None,
) -> dict[str, Json]:
    """A figure over time for each measure that this subject has visits for, by ``month_<id>``."""
    at = subjects.place.get(subject)
    if at is None:
        return {}
    found = {}
    for name, year in subjects.years.items():
        if only is not None and name not in only:
            continue
        if shown := _one(subjects, year, name, at, clinic_id, compared.get(name) or {}, reader):
            found[f"month_{name}"] = shown
    return found


def _one(
    subjects: Subjects,
    year: Year,
    name: str,
    at: int,
    clinic_id: int,
    compared: dict[str, Any],
    reader: Reader,
) -> Json | None:
    measure = subjects.tallies.measures.index(name)
    part = np.s_[measure, at, -SHOWN_MONTHS:]
    n, s = subjects.tallies.n[part], subjects.tallies.s[part]
    if not n.any():
        return None
    may = may_compare(year.clinics, own=clinic_id) and year.centre is not None
    scale = shown_scale(year, at, may)
    visits = subjects.visits[at, -SHOWN_MONTHS:]
    keep = (n > 0) if reader.small_shown else large_enough(n, visits)
    left_out = int(((n > 0) & ~keep).sum())
    says = subject_says(year, at, scale, compared if may else None)
    if left_out:
        says += f" {many(left_out, 'month')} with too few visits left out."
    shown = np.where(keep, n, 0.0)
    band = subjects.limits(name) if may else None
    unit = occasions(year.measure)
    return over_months(
        Months(
            months=subjects.months,
            n=shown,
            value=ratio(s, shown),
            centre=year.centre if may else None,
            lower=np.where(keep, band.lower[at], np.nan) if band else None,
            upper=np.where(keep, band.upper[at], np.nan) if band else None,
        ),
        scale,
        title=year.measure.title,
        says=says,
        footer=FOOTER.format(occasions=unit, kind=subjects.kind)
        if may
        else "Each dot is one month.",
        occasions=unit,
    )


def shown_scale(year: Year, at: int, may: bool) -> Scale:
    """Ratios are shown against the network's centre, or the own mean where that is not shown."""
    own = float(year.value[at])
    reference = year.centre if may else (own if np.isfinite(own) else 0.0)
    against = "the network's centre" if may else "the own mean of twelve months"
    return scale_of(year.measure, reference=reference, against=against)
