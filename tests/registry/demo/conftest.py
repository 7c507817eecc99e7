"""One full network, generated once for all tests of the demo."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from registry.demo import Scenario, clinic_files, scenario
from tests.registry.demo.results_read import documents

UNTIL = date(2026, 3, 1)
Network = dict[str, list[dict[str, Any]]]


def generate(network: Scenario, size: str) -> Network:
    return {
        clinic.code: [
            visit
            for file in clinic_files(network, clinic, size=size, until=UNTIL)
            for visit in documents(file)
        ]
        for clinic in network.clinics
    }


@pytest.fixture(scope="session")
def full() -> Network:
    """The visits of every clinic at size ``full``, by clinic code."""
    return generate(scenario(), "full")


@pytest.fixture(scope="session")
def small() -> Network:
    return generate(scenario(), "small")
