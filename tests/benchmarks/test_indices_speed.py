"""How fast the formulas are; only a ratio is asserted, since machines differ."""

from __future__ import annotations

import time

import numpy as np
import pytest

from registry.caloric.indices import compute_indices

VISITS = 1_000_000
ONE_BY_ONE = 1_000
# The arrays are some thousand times quicker; this leaves room for a busy machine.
AT_LEAST_TIMES_FASTER = 50


def invented_columns(visits: int) -> dict[str, list[np.ndarray]]:
    generator = np.random.default_rng(20260302)
    peaks = [generator.gamma(4.0, 6.0, visits) - 1.0 for _ in range(4)]
    peaks[1][::50] = np.nan
    return {
        "peaks": peaks,
        "fixation": [0.4 * peak for peak in peaks],
        "before": [0.9 * peak for peak in peaks],
        "errors": [0.05 * np.abs(peak) + 0.2 for peak in peaks],
        "spontaneous": [np.where(generator.random(visits) < 0.1, 3.0, 0.0)],
        "handling": [generator.integers(0, 3, visits).astype(np.int8)],
    }


def computed(columns: dict[str, list[np.ndarray]], rows: slice):
    cut = {name: [one[rows] for one in some] for name, some in columns.items()}
    return compute_indices(
        *cut["peaks"],
        fixation=cut["fixation"],
        before_fixation=cut["before"],
        standard_errors=cut["errors"],
        spontaneous=cut["spontaneous"][0],
        handling=cut["handling"][0],
    )


@pytest.mark.benchmark
def test_a_million_visits_at_once_give_what_each_gives_alone_and_much_faster():
    columns = invented_columns(VISITS)

    seconds = []
    for _ in range(3):
        started = time.perf_counter()
        together = computed(columns, slice(None))
        seconds.append(time.perf_counter() - started)
    # The quickest: the others also measured what else the machine was doing.
    per_visit_together = min(seconds) / VISITS

    places = np.linspace(0, VISITS - 1, ONE_BY_ONE).astype(int)
    started = time.perf_counter()
    alone = [computed(columns, slice(place, place + 1)) for place in places]
    per_visit_alone = (time.perf_counter() - started) / ONE_BY_ONE

    print(
        f"\nall indices: {1 / per_visit_together:,.0f} visits/s at once, "
        f"{1 / per_visit_alone:,.0f} one at a time, "
        f"ratio {per_visit_alone / per_visit_together:,.0f}"
    )
    for name, column in together.columns.items():
        same = np.array([one.columns[name][0] for one in alone])
        np.testing.assert_allclose(column[places], same, rtol=1e-12, atol=1e-12, err_msg=name)
    assert (together.reason[places] == [one.reason[0] for one in alone]).all()
    assert per_visit_alone > AT_LEAST_TIMES_FASTER * per_visit_together
