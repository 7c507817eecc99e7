"""The tables of the consistency engine, one subject a file."""

from analytics.models.build import Build, NetworkState, PatientMix, Snapshot, SubjectSummary
from analytics.models.cell import Cell, CheckCell, RetestPair, StandOut
from analytics.models.look_back import LookBack, LookBackVisit
from analytics.models.signal import Signal, SignalEntry

__all__ = [
    "Build",
    "Cell",
    "CheckCell",
    "LookBack",
    "LookBackVisit",
    "NetworkState",
    "PatientMix",
    "RetestPair",
    "Signal",
    "SignalEntry",
    "Snapshot",
    "StandOut",
    "SubjectSummary",
]
