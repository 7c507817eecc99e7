"""The four scores by hand-made numbers (derived from their definitions)."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.statistics.scores import en_score, z_prime_score, z_score, zeta_score


def test_a_result_two_sds_above_scores_two():
    assert z_score(14.0, 10.0, 2.0) == 2.0
    assert z_score(6.0, 10.0, 2.0) == -2.0


def test_an_uncertain_assigned_value_draws_the_score_in():
    # 3-4-5: the two spreads together are 5.
    assert z_prime_score(20.0, 10.0, sd=3.0, assigned_u=4.0) == 2.0


def test_zeta_counts_the_results_own_uncertainty():
    assert zeta_score(20.0, 10.0, result_u=4.0, assigned_u=3.0) == 2.0


def test_expanded_uncertainties_halve_the_zeta_score():
    zeta = zeta_score(20.0, 10.0, result_u=4.0, assigned_u=3.0)

    assert en_score(20.0, 10.0, result_expanded=8.0, assigned_expanded=6.0) == zeta / 2


def test_arrays_are_scored_at_once_and_what_is_missing_has_no_score():
    found = z_score([14.0, np.nan, 12.0, 12.0], 10.0, [2.0, 2.0, 0.0, np.nan])

    assert found[0] == 2.0
    assert np.isnan(found[1:]).all()


def test_a_negative_spread_is_refused():
    with pytest.raises(ValueError, match="negative: -1"):
        z_score(1.0, 2.0, -1.0)
