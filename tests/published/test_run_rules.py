"""Run rules against published vectors, published chances, and a second way of reading them."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom, norm

from analytics.statistics.charts.run_rules import NELSON, WESTERN_ELECTRIC, runs_test

FOLDER = Path(__file__).parents[2] / "fixtures/published"


def rows_of(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader((FOLDER / name).read_text("utf-8").splitlines()))


VECTORS = {row["rule"]: row for row in rows_of("02_run_rules_vectors.csv")}
ANSWERS = [
    row
    for row in rows_of("expected_answers.csv")
    if row["id"] == "02" and row["method"].startswith("run rules")
]
RULES = {rule.code: rule for rule in (*WESTERN_ELECTRIC.rules, *NELSON.rules)}


def signals_of(vector: str) -> list[int]:
    """Places from 1, as published, of the rule that begins the vector's name."""
    rule = RULES[vector.split("_")[0].replace("NEL", "N")]
    z = [float(value) for value in VECTORS[vector]["z"].split(";")]
    return [int(place) + 1 for place in np.flatnonzero(rule.completes(z))]


def places(text: str) -> list[int]:
    return [int(place) for place in text.split(";") if place]


def test_there_are_published_vectors_to_walk():
    assert len(VECTORS) >= 18
    assert len(ANSWERS) >= 16
    assert {row["quantity"].removesuffix(" signal points") for row in ANSWERS} <= set(VECTORS)


@pytest.mark.parametrize("row", ANSWERS, ids=lambda row: row["quantity"])
def test_a_published_answer_comes_out(row):
    vector = row["quantity"].removesuffix(" signal points")

    assert signals_of(vector) == places(row["published"])


@pytest.mark.parametrize("vector", VECTORS)
def test_a_published_vector_signals_where_it_should(vector):
    # github luca-scr/qcc, tests/testthat/test-rules.R.
    assert signals_of(vector) == places(VECTORS[vector]["signal_points_1based"])


# How often a rule completes at a point of a chart on which nothing happens. Exact: normal tails,
# binomials of signs, and orders of points (E14 = 199360981 is the 14th zigzag number).
CHANCES = {
    "N1": 2 * norm.sf(3),
    "N2": 2 * 0.5**9,
    "N3": 2 / math.factorial(6),
    "N4": 2 * 199360981 / math.factorial(14),
    "N5": 2 * norm.sf(2) * (1 - norm.cdf(2) ** 2),
    "N6": 2 * norm.sf(1) * binom.sf(2, 4, norm.sf(1)),
    "N7": (1 - 2 * norm.sf(1)) ** 15,
    "N8": (2 * norm.sf(1)) ** 8 - 2 * norm.sf(1) ** 8,
}  # fmt: skip
LONG = np.random.default_rng(8).normal(size=300_000)


@pytest.mark.parametrize("code", CHANCES)
def test_a_rule_completes_by_chance_as_often_as_it_should(code):
    # Each below five in a thousand: Nelson 1984, 1985, read as quoted in the SAS/QC documentation;
    # the chances themselves derived.
    share = RULES[code].completes(LONG).mean()

    assert CHANCES[code] < 0.005
    assert share == pytest.approx(CHANCES[code], rel=0.15)


def test_the_western_electric_rules_signal_on_average_after_ninety_two_points():
    # 91.75, Champ & Woodall, Technometrics 1987;29:393-399 (from memory).
    z = np.random.default_rng(92).normal(size=(1500, 700))

    flags = WESTERN_ELECTRIC.flags(z)
    first = np.where(flags.any(axis=1), flags.argmax(axis=1) + 1, 700)

    assert first.mean() == pytest.approx(91.75, abs=3 * 91 / 1500**0.5)


def test_twenty_four_points_may_run_eight_long_and_must_cross_eight_times():
    # Anhoej & Olesen, PLoS ONE 2014;9:e113825, as quoted in the qicharts2 vignette.
    found = runs_test(np.resize([1.0, -1.0], 24), centre=0.0)

    assert (found.longest_limit, found.crossings_limit) == (8, 8)
    assert (found.longest, found.crossings) == (1, 23)
    assert (found.long_run, found.few_crossings) == (False, False)
