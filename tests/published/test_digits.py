"""Digit preference against the answers of a public nutrition-survey manual."""

from __future__ import annotations

import pytest

from analytics.statistics.digits import DigitCounts, DigitPreference, digit_preference
from tests.published.answers import Check, Key, agrees, answers, key_of, name_of, rows_of

FILE = "08_nipn_terminal_digit_counts.csv"


def preference(dataset: str, variable: str) -> DigitPreference:
    wanted = {"dataset": dataset, "variable": variable}.items()
    row = next(row for row in rows_of(FILE) if wanted <= row.items())
    counts = tuple(int(row[f"d{digit}"]) for digit in range(10))
    return digit_preference(DigitCounts(tuple(range(10)), counts))


def class_of_the_manual(score: float) -> str:
    """The manual's own classes; they stand in the test alone, our pages show no grade."""
    limits = {8: "Excellent", 13: "Good", 20: "Acceptable"}
    return next((word for limit, word in limits.items() if score < limit), "Problematic")


CHECKS: dict[Key, Check] = {
    ("digit preference score", FILE, "DPS dp.ex01 height"): (
        lambda: preference("dp.ex01", "ht").score
    ),
    ("digit preference score", FILE, "DPS dp.ex02 MUAC"): (
        lambda: preference("dp.ex02", "muac").score
    ),
    ("digit preference score", FILE, "class dp.ex01 weight"): (
        lambda: class_of_the_manual(preference("dp.ex01", "wt").score)
    ),
    ("terminal-digit chi-square", f"{FILE} (vignette60)", "p >= 0.05 (false negative at n=60)"): (
        lambda: preference("vignette60", "imaginary").p_value >= 0.05
    ),
}
ANSWERS = answers("08")


@pytest.mark.parametrize("row", ANSWERS, ids=name_of)
def test_a_published_answer_comes_out(row):
    agrees(row, CHECKS)


def test_every_check_has_its_published_answer():
    assert set(CHECKS) == {key_of(row) for row in ANSWERS}


def test_the_weights_of_the_first_survey_have_a_score_of_11_86():
    # Computed once elsewhere from the published counts, no published figure.
    assert preference("dp.ex01", "wt").score == pytest.approx(11.86, abs=6e-3)
