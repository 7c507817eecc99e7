"""Published answers and data of ``fixtures/published``, for the tests beside this file.

A row says where its number was read; ``MEMORY`` is remembered from that source, not read again.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

FOLDER = Path(__file__).parents[2] / "fixtures/published"

Row = dict[str, str]
Key = tuple[str, str, str]
Check = Callable[[], object]


def rows_of(name: str) -> list[Row]:
    """Rows of one file."""
    return list(csv.DictReader((FOLDER / name).read_text("utf-8").splitlines()))


def column(name: str, key: str, **where: str) -> NDArray[np.float64]:
    """One column of a file as numbers, of the rows in which other columns hold what is asked."""
    wanted = where.items()
    return np.array([float(row[key]) for row in rows_of(name) if wanted <= row.items()])


def answers(method: str) -> list[Row]:
    """Published answers of one method, by its number."""
    return [row for row in rows_of("expected_answers.csv") if row["id"] == method]


def key_of(row: Row) -> Key:
    """What tells one answer from another."""
    return row["method"], row["dataset"], row["quantity"]


def name_of(row: Row) -> str:
    """A name for the list of tests, which says what is from memory."""
    mark = " (from memory)" if row["status"] == "MEMORY" else ""
    return f"{row['method']}: {row['quantity']}{mark}"


def agrees(row: Row, checks: Mapping[Key, Check]) -> None:
    """Fail unless the check of this row gives its number within the tolerance, or its word."""
    assert key_of(row) in checks, f"no check computes {key_of(row)}"
    found = checks[key_of(row)]()
    if row["published"] == "True" or not row["published"].replace(".", "").lstrip("-").isdigit():
        assert str(found) == row["published"], row["source"]
        return
    # The published number is rounded; its tolerance is about half of its last digit.
    tolerance = max(float(row["tolerance"]), 1e-12)
    assert found == pytest.approx(float(row["published"]), rel=0, abs=tolerance), row["source"]
