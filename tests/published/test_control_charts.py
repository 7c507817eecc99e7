"""Control charts against the numbers printed in books and handbooks; sources stand in each row."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from analytics.statistics.charts.attributes import (
    c_chart,
    laney_p_chart,
    laney_u_chart,
    p_chart,
    u_chart,
)
from analytics.statistics.charts.baseline import Standing
from analytics.statistics.charts.chart import Chart
from analytics.statistics.charts.constants import D2, a3, b4, c4
from analytics.statistics.charts.cusum import cusum_chart
from analytics.statistics.charts.ewma import ewma, ewma_chart
from analytics.statistics.charts.individuals import individuals_charts
from analytics.statistics.charts.run_rules import (
    ISO_7870_2,
    NELSON,
    WESTERN_ELECTRIC,
    one_point_beyond,
)
from analytics.statistics.charts.subgroups import subgroup_charts

FOLDER = Path(__file__).parents[2] / "fixtures/published"
QUALITY_CONTROL = "Montgomery, Introduction to Statistical Quality Control"


def rows_of(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader((FOLDER / name).read_text("utf-8").splitlines()))


def column(name: str, key: str) -> np.ndarray:
    return np.array([float(row[key] or "nan") for row in rows_of(name)])


def of_trial(name: str, key: str) -> np.ndarray:
    return np.array([float(row[key]) for row in rows_of(name) if row["trial"] == "True"])


def largest(difference: np.ndarray) -> float:
    return float(np.max(np.abs(difference)))


ANSWERS = [
    row
    for row in rows_of("expected_answers.csv")
    if row["id"] == "02" and not row["method"].startswith("run rules")
]

FLOW = individuals_charts(column("02_nist_individuals_flowrate.csv", "flowrate"))
EWMA_X = column("02_nist_ewma.csv", "x")
EWMA = ewma_chart(EWMA_X, weight=0.3, centre=50.0, sigma=2.0539)
CUSUM = cusum_chart(column("02_nist_cusum.csv", "x"), target=325, sigma=1, k=0.3175, h=4.1959)
NIST_P = p_chart(*(column("02_nist_p_chart_wafers.csv", key) for key in ("defective", "n")))
NIST_C = c_chart(column("02_nist_c_chart_wafers.csv", "defects"))
JUICE = p_chart(
    *(of_trial("02_montgomery_orangejuice.csv", key) for key in ("D", "size")), exclude=[14, 22]
)
CIRCUIT = c_chart(of_trial("02_montgomery_circuit.csv", "x"))
COMPUTERS = u_chart(*(column("02_montgomery_pcmanufact.csv", key) for key in ("x", "size")))
CLOTH = u_chart(*(column("02_montgomery_dyedcloth.csv", key) for key in ("x", "size")))
RINGS = subgroup_charts(
    column("02_montgomery_ex6.3_xbar.csv", "mean"),
    column("02_montgomery_ex6.3_s.csv", "sd"),
    column("02_montgomery_ex6.3_s.csv", "subgroup_size"),
)
LOANS = individuals_charts(column("02_montgomery_ex6.5_individuals.csv", "y_sum"), baseline=20)
PERMITS = p_chart(*(column("02_montgomery_tbl7.4_p_variable_n.csv", key) for key in ("y_sum", "n")))
BOTH_PARTS = [column("02_montgomery_ex7.1_p.csv", key) for key in ("y_sum", "n")]
CANS = p_chart(*BOTH_PARTS, baseline=30, exclude=[14, 22])
BOARDS = c_chart(column("02_montgomery_ex7.3_c.csv", "y_sum"), baseline=26, exclude=[5, 19])
NETWORK = u_chart(*(column("02_montgomery_ex7.4_u.csv", key) for key in ("y_sum", "n")))
# The example counts in units of 50 square metres.
DYEING = u_chart(
    column("02_montgomery_ex7.5_u_variable_n.csv", "y_sum"),
    column("02_montgomery_ex7.5_u_variable_n.csv", "n") / 50,
)
SPIKE = column("02_nhsr_xmr_screening.csv", "value")
PLAIN, SCREENED = (individuals_charts(SPIKE, screen=screen).values for screen in (False, True))
# The answer was made with the unrounded d2.
HAND = laney_p_chart([2, 3, 1, 4, 2], [50] * 5, d2=2 / np.pi**0.5)


def limits(name: str, chart: Chart, *, centre: str, prefix: str = "") -> dict:
    return {
        (name, centre): chart.centre[0],
        (name, f"{prefix}UCL"): chart.upper[0],
        (name, f"{prefix}LCL"): chart.lower[0],
    }


def against_file(name: str, chart: Chart) -> dict:
    return {
        (name, "max |UCL_i - reference|"): largest(chart.upper - column(name, "ucl")),
        (name, "max |LCL_i - reference|"): largest(chart.lower - column(name, "lcl")),
        (name, "max |LCL_i - reference| (floored at 0)"): largest(
            chart.lower - column(name, "lcl")
        ),
    }


COMPUTED: dict[tuple[str, str], float] = {
    **limits("02_nist_individuals_flowrate.csv", FLOW.values, centre="mean"),
    ("02_nist_individuals_flowrate.csv", "MRbar"): FLOW.values.estimates["mean_moving_range"],
    ("02_nist_ewma.csv", "max |ewma-published| over 20 points"): largest(
        EWMA.points - column("02_nist_ewma.csv", "ewma_published")
    ),
    ("02_nist_ewma.csv", "UCL"): EWMA.estimates["steady_upper"],
    ("02_nist_ewma.csv", "LCL"): EWMA.estimates["steady_lower"],
    ("02_nist_cusum.csv", "max |S_hi-published|"): largest(
        CUSUM.high - column("02_nist_cusum.csv", "s_hi_published")
    ),
    ("02_nist_cusum.csv", "max |S_lo-published|"): largest(
        CUSUM.low - column("02_nist_cusum.csv", "s_lo_published")
    ),
    ("02_nist_cusum.csv", "max |cusum-published|"): largest(
        CUSUM.total - column("02_nist_cusum.csv", "cusum_published")
    ),
    ("02_nist_cusum.csv", "first signal group"): CUSUM.signals["above"][0] + 1,
    **limits("02_nist_p_chart_wafers.csv", NIST_P, centre="pbar"),
    **limits(
        "02_montgomery_orangejuice.csv",
        JUICE,
        centre="revised pbar (without 15,23)",
        prefix="revised ",
    ),
    **limits("02_nist_c_chart_wafers.csv", NIST_C, centre="cbar"),
    **limits("02_montgomery_circuit.csv", CIRCUIT, centre="cbar"),
    **limits("02_montgomery_pcmanufact.csv", COMPUTERS, centre="ubar"),
    ("02_montgomery_dyedcloth.csv", "ubar"): CLOTH.centre[0],
    **limits("02_montgomery_ex6.3_xbar.csv", RINGS.means, centre="xbarbar", prefix="xbar "),
    ("02_montgomery_ex6.3_xbar.csv", "xbar UCL as printed"): RINGS.means.upper[0],
    ("02_montgomery_ex6.3_xbar.csv", "xbar LCL as printed"): RINGS.means.lower[0],
    ("02_montgomery_ex6.3_xbar.csv", "sbar"): RINGS.sds.centre[0],
    ("02_montgomery_ex6.3_xbar.csv", "sbar as printed"): RINGS.sds.centre[0],
    ("02_montgomery_ex6.3_xbar.csv", "s UCL"): RINGS.sds.upper[0],
    ("02_montgomery_ex6.3_xbar.csv", "s UCL as printed"): RINGS.sds.upper[0],
    **limits("02_montgomery_ex6.5_individuals.csv", LOANS.values, centre="mean of first 20"),
    ("02_montgomery_ex6.5_individuals.csv", "MRbar"): LOANS.moving_ranges.centre[0],
    ("02_montgomery_ex6.5_individuals.csv", "MR UCL (D4=3.267)"): LOANS.moving_ranges.upper[0],
    (
        "02_montgomery_ex6.5_individuals.csv",
        "weeks signalling in phase II (beyond limits)",
    ): len(LOANS.values.signals["WE1"]),
    ("02_montgomery_tbl7.4_p_variable_n.csv", "pbar"): PERMITS.centre[0],
    **against_file("02_montgomery_tbl7.4_p_variable_n.csv", PERMITS),
    **limits(
        "02_montgomery_ex7.1_p.csv",
        CANS,
        centre="revised pbar (samples 15 and 23 excluded)",
        prefix="revised ",
    ),
    **limits("02_montgomery_ex7.3_c.csv", BOARDS, centre="revised cbar", prefix="revised "),
    ("02_montgomery_ex7.4_u.csv", "ubar"): NETWORK.centre[0],
    ("02_montgomery_ex7.4_u.csv", "UCL"): NETWORK.upper[0],
    ("02_montgomery_ex7.5_u_variable_n.csv", "ubar"): DYEING.centre[0],
    **against_file("02_montgomery_ex7.5_u_variable_n.csv", DYEING),
    ("-", "c4(5)"): float(c4(5)),
    ("-", "A3(5)"): float(a3(5)),
    ("-", "B4(5)"): float(b4(5)),
    ("02_nhsr_xmr_screening.csv", "mean"): PLAIN.centre[0],
    ("02_nhsr_xmr_screening.csv", "UPL unscreened"): PLAIN.upper[0],
    ("02_nhsr_xmr_screening.csv", "LPL unscreened"): PLAIN.lower[0],
    ("02_nhsr_xmr_screening.csv", "UPL screened"): SCREENED.upper[0],
    ("02_nhsr_xmr_screening.csv", "LPL screened"): SCREENED.lower[0],
    ("inline [2,3,1,4,2]/50", "sigma_z (exact d2=2/sqrt(pi))"): HAND.estimates["sigma_z"],
    ("inline [2,3,1,4,2]/50", "UCL"): HAND.upper[0],
}


def recursion(values: np.ndarray, weight: float, start: float) -> list[float]:
    smoothed, last = [], start
    for value in values:
        last = weight * value + (1 - weight) * last
        smoothed.append(last)
    return smoothed


COMPUTED["02_nist_ewma.csv", "pandas ewm equals recursion"] = largest(
    ewma(EWMA_X, weight=0.3, start=50.0) - recursion(EWMA_X, 0.3, 50.0)
)


def test_there_are_published_answers_to_walk():
    assert len(ANSWERS) >= 67


@pytest.mark.parametrize("row", ANSWERS, ids=lambda row: f"{row['dataset']} {row['quantity']}")
def test_a_published_answer_comes_out(row):
    # A row without a check of its own is a KeyError here, and so a failure.
    answer = COMPUTED[row["dataset"], row["quantity"]]

    assert answer == pytest.approx(float(row["published"]), abs=float(row["tolerance"]) or 1e-12)


@pytest.mark.parametrize(
    ("name", "chart"),
    [
        ("02_montgomery_ex6.3_xbar.csv", RINGS.means),
        ("02_montgomery_ex6.3_s.csv", RINGS.sds),
        ("02_montgomery_ex6.5_individuals.csv", LOANS.values),
        ("02_montgomery_ex6.5_mr.csv", LOANS.moving_ranges),
        ("02_montgomery_ex7.3_c.csv", BOARDS),
        ("02_montgomery_ex7.4_u.csv", NETWORK),
    ],
)
def test_every_point_of_a_reference_chart_has_its_limits(name, chart):
    # Reference objects of the examples in QUALITY_CONTROL, read as the README of the data says.
    assert chart.points == pytest.approx(column(name, "y"), nan_ok=True)
    assert chart.centre == pytest.approx(column(name, "cl"), rel=1e-12)
    assert chart.lower == pytest.approx(column(name, "lcl"), rel=1e-12)
    assert chart.upper == pytest.approx(column(name, "ucl"), rel=1e-12)


def test_limits_may_be_made_anew_from_a_later_stretch():
    # Example 7.1 of QUALITY_CONTROL, second stretch, from the same reference objects.
    later = p_chart(*BOTH_PARTS, baseline=slice(30, 94))
    reference = {key: column("02_montgomery_ex7.1_p.csv", key)[30] for key in ("cl", "lcl", "ucl")}

    assert later.centre[0] == pytest.approx(reference["cl"], rel=1e-12)
    assert later.lower[0] == reference["lcl"] == 0.0
    assert later.upper[0] == pytest.approx(reference["ucl"], rel=1e-12)


def test_the_two_weeks_of_the_loan_example_are_the_last_two():
    # Example 6.5 of QUALITY_CONTROL: weeks 39 and 40.
    assert list(LOANS.values.signals["WE1"] + 1) == [39, 40]


def test_with_a_quarter_of_a_million_trials_a_week_only_laneys_limits_hold():
    # Data: Mohammed et al., BMJ Qual Saf 2013;22:362-368; the four figures computed from them.
    counts = [
        column("02_mohammed2013_nhs_4hour_laney.csv", key)
        for key in ("seen_within_4h", "attendances")
    ]

    plain = p_chart(*counts, rule_set=one_point_beyond())
    laney = laney_p_chart(*counts, rule_set=one_point_beyond())

    assert plain.centre[0] == pytest.approx(0.952900, abs=5e-7)
    assert laney.estimates["sigma_z"] == pytest.approx(10.6404, abs=5e-5)
    assert len(plain.signals["beyond"]) == 16
    assert len(laney.signals["beyond"]) == 0


def test_the_charts_of_motors_and_of_wire_agree_with_plain_arithmetic():
    # Ishikawa, Guide to Quality Control: data published, limits by the formulas (derived).
    defective, motors = (
        column("02_ishikawa_p_chart_motors.csv", key) for key in ("defective", "n")
    )
    defects, metres = (
        column("02_ishikawa_u_chart_wire.csv", key) for key in ("defects", "length_m")
    )
    p, u = defective.sum() / motors.sum(), defects.sum() / metres.sum()

    shares, rates = p_chart(defective, motors), u_chart(defects, metres)
    widened = laney_u_chart(defects, metres)

    assert shares.upper == pytest.approx(p + 3 * np.sqrt(p * (1 - p) / motors))
    assert rates.upper == pytest.approx(u + 3 * np.sqrt(u / metres))
    z = (defects / metres - u) / np.sqrt(u / metres)
    sigma_z = np.abs(np.diff(z)).mean() / 1.128
    assert widened.upper == pytest.approx(u + 3 * sigma_z * np.sqrt(u / metres))


def charts_of(baseline_points: int, *, seed: int, charts: int = 4000) -> np.ndarray:
    """Standardised points of charts on which nothing happens, limits frozen from the first ones."""
    values = np.random.default_rng(seed).normal(size=(charts, baseline_points + 24))
    if baseline_points == 0:
        return values
    before, after = values[:, :baseline_points], values[:, baseline_points:]
    sigma = np.abs(np.diff(before, axis=1)).mean(axis=1, keepdims=True) / D2
    return (after - before.mean(axis=1, keepdims=True)) / sigma


# Computed shares, no published figure. The first set of four is the one they were computed for:
# one point beyond 3 SD, two of three beyond 2 SD, seven on one side, seven rising or falling.
FOUR_RULES: tuple[Callable[[np.ndarray], np.ndarray], ...] = (
    WESTERN_ELECTRIC.rules[0].completes,
    WESTERN_ELECTRIC.rules[1].completes,
    *(rule.completes for rule in ISO_7870_2.rules[1:]),
)


@pytest.mark.parametrize(
    ("baseline_points", "four", "nelson", "one"), [(0, 23, 25, 7), (12, 46, 48, 23)]
)
def test_limits_from_twelve_points_give_many_false_signals(baseline_points, four, nelson, one):
    z = charts_of(baseline_points, seed=12)

    shares = [
        np.logical_or.reduce([completes(z) for completes in FOUR_RULES]).any(axis=1).mean(),
        NELSON.flags(z).any(axis=1).mean(),
        one_point_beyond().flags(z).any(axis=1).mean(),
    ]

    # Three standard errors of 4,000 charts and half a printed percent.
    assert [100 * share for share in shares] == pytest.approx([four, nelson, one], abs=2.5)


def test_limits_are_trial_limits_under_twelve_points_and_firm_from_twenty():
    baseline = np.random.default_rng(5).normal(size=40)

    standings = [individuals_charts(baseline, baseline=n).values for n in (11, 12, 19, 20)]

    assert [chart.standing for chart in standings] == [
        Standing.TRIAL, Standing.SETTLING, Standing.SETTLING, Standing.FIRM,
    ]  # fmt: skip
    assert [chart.may_alert for chart in standings] == [False, False, False, True]
