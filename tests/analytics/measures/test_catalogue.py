"""The measures as data: complete, known to the scores, and looked at again in time."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from analytics.measures import catalogue
from analytics.measures.catalogue import FOLDER, read_measure
from analytics.measures.facts import Facts
from analytics.measures.scores import SCORES, score
from analytics.rollups.mix import TERMS

MEASURES = catalogue().measures


def facts(**columns):
    """Visits of which only these columns are known."""
    length = len(next(iter(columns.values())))
    known = {name: np.array(values, dtype=np.float64) for name, values in columns.items()}
    return Facts(**(Facts.empty(length) | known))


def test_every_scored_measure_has_a_score_and_every_score_a_measure():
    assert {measure.id for measure in catalogue().scored} == set(SCORES)


@pytest.mark.parametrize("measure", MEASURES, ids=lambda one: one.id)
def test_a_measure_says_what_it_counts_why_and_since_when(measure):
    words = (measure.title, measure.about, measure.method, measure.source, measure.reviewer)
    counted = (measure.numerator, measure.denominator)
    valued = (measure.value, measure.scale)

    assert all(words)
    assert all(counted if measure.kind == "share" else valued)
    assert set(measure.case_mix) <= set(TERMS)
    assert measure.subjects
    assert measure.minimum_visits >= 1


@pytest.mark.parametrize("measure", MEASURES, ids=lambda one: one.id)
def test_the_review_of_a_measure_is_not_overdue(measure):
    # When this fails somebody must read the measure again and say so in its file.
    assert measure.reviewed_on <= measure.review_by
    assert measure.review_by >= date.today()  # noqa: DTZ011


@pytest.mark.parametrize(
    "wrong", ['group = "other"', 'kind = "median"', 'direction = "up"', 'standing = "sure"']
)
def test_a_file_with_a_word_of_no_list_is_refused(tmp_path, wrong):
    name = wrong.split(" ")[0]
    lines = (FOLDER / "low_total.toml").read_text().splitlines()
    kept = [line for line in lines if not line.startswith(f"{name} =")]
    path = tmp_path / "low_total.toml"
    path.write_text("\n".join([*kept, wrong]))

    with pytest.raises(ValueError, match="is not one of"):
        read_measure(path)


def test_a_patient_with_a_weak_ear_counts_for_nothing_in_the_balance():
    # Derived: the biweight is 0 from 55 points on and nearly the weakness itself near 0.
    found = score(
        "right_left_balance",
        facts(unilateral_weakness_percent=[5.0, -5.0, 60.0, 5.0], total_spv=[80, 80, 80, 20]),
    )

    assert found.n.tolist() == [1, 1, 1, 0]
    assert found.s[0] == pytest.approx(5.0 * (1 - (5 / 55) ** 2) ** 2)
    assert found.s[1] == -found.s[0]
    assert found.s[2:].tolist() == [0, 0]


def test_four_responses_that_beat_backwards_are_no_low_level():
    totals = {"right_total": [-40.0, 0.5], "left_total": [-38.0, 0.5]}

    found = score("response_level", facts(**totals, negative_peaks=[4, 0]))

    assert found.n.tolist() == [0, 1]
    assert found.s[1] == -0.8


@pytest.mark.parametrize("measure", sorted(SCORES))
def test_a_visit_of_which_nothing_is_known_counts_nowhere(measure):
    found = score(measure, Facts(**Facts.empty(3)))

    assert found.n.tolist() == [0, 0, 0]
    assert found.s.tolist() == [0, 0, 0]
    assert found.ss.tolist() == [0, 0, 0]
