"""Visits whose record deserves a second look, found again for the months that changed."""

from __future__ import annotations

from collections.abc import Sequence

from analytics.rollups.facts import FactRows, TesterMonth
from registry.models import Clinic


def stand_outs_replace(clinic: Clinic, keys: Sequence[TesterMonth], rows: FactRows) -> None:
    """Judge these visits anew."""
