"""The invented network: a scenario, and two years of results drawn from it.

Pure: no Django, no clock, nothing read or written but the bytes returned.
"""

from registry.demo.equipment import equipment_events, temperature_checks
from registry.demo.network import scenario
from registry.demo.scenario import SEED, SIZES, Scenario, day_date
from registry.demo.visits import DemoFile, clinic_files

__all__ = [
    "SEED",
    "SIZES",
    "DemoFile",
    "Scenario",
    "clinic_files",
    "day_date",
    "equipment_events",
    "scenario",
    "temperature_checks",
]
