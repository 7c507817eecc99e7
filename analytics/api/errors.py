"""The errors of the consistency engine, and the problem each one is answered with."""

from __future__ import annotations

from typing import Final

from analytics.dashboards.reading import DashboardNotFound
from analytics.look_backs.decide import LookBackNotFound
from analytics.signals.reading import SignalNotFound
from analytics.signals.review import SignalChanged
from analytics.summaries.reading import SummaryNotFound

ANSWERED_WITH: Final[dict[type[Exception], str]] = {
    SummaryNotFound: "not_found",
    SignalNotFound: "not_found",
    SignalChanged: "version_mismatch",
    LookBackNotFound: "not_found",
    DashboardNotFound: "not_found",
}
