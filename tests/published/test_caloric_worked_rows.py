"""Every worked row: inputs invented, outputs exact by Jongkees et al. 1962 (see the README)."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from registry.caloric.compute import compute_visit
from tests.registry.caloric.building import visit

FILE = Path(__file__).parents[2] / "fixtures/published/caloric_worked_rows.csv"
ROWS = {row["id"]: row for row in csv.DictReader(FILE.read_text("utf-8").splitlines())}
CELLS = {"RW": "right_warm", "LW": "left_warm", "RC": "right_cool", "LC": "left_cool"}
COLUMNS = {
    "UW_pct_RminusL": "unilateral_weakness_percent",
    "DP_pct_RBminusLB": "directional_preponderance_percent",
    "TE_pct_WminusC": "temperature_effect_percent",
    "MonoWarm_pct": "monothermal_warm_percent",
    "MonoCool_pct": "monothermal_cool_percent",
    "TotalR": "right_total",
    "TotalL": "left_total",
    "Total": "total_spv",
}
WRONG_WAYS = ("D06x", "D06y")


def indices_of(row: dict[str, str]):
    peaks = {cell: float(row[short]) for short, cell in CELLS.items()}
    return compute_visit(visit(peaks=peaks)).indices


def test_the_file_holds_the_rows_that_are_tested():
    assert len(ROWS) == 22
    assert set(WRONG_WAYS) <= set(ROWS)


@pytest.mark.parametrize("row_id", [row_id for row_id in ROWS if row_id not in WRONG_WAYS])
def test_a_worked_row_comes_out_as_written(row_id):
    row = ROWS[row_id]

    indices = indices_of(row)

    for column, name in COLUMNS.items():
        expected = float(row[column]) if row[column] else None
        # Four decimals are printed.
        assert getattr(indices, name) == pytest.approx(expected, abs=5.1e-5), name


@pytest.mark.parametrize("row_id", WRONG_WAYS)
def test_clamping_or_dropping_signs_never_comes_out(row_id):
    # Byun, J Korean Bal Soc 2005;4(2):238-242: clamping turned 80.9 % into 52.1 %.
    wrong = ROWS[row_id]

    indices = indices_of(ROWS["D06"])

    for column in ("UW_pct_RminusL", "DP_pct_RBminusLB", "TE_pct_WminusC", "Total"):
        assert abs(getattr(indices, COLUMNS[column]) - float(wrong[column])) > 1, column


@pytest.mark.parametrize(
    ("row_id", "reason"), [("D09", "no_response"), ("D10", "sum_not_positive")]
)
def test_a_sum_of_zero_is_undefined_with_its_reason(row_id, reason):
    indices = indices_of(ROWS[row_id])

    assert indices.undefined_reason == reason
    assert indices.unilateral_weakness_percent is None
    assert indices.lower_side is None
